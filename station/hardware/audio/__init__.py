"""The audio device from the station's side: found, locked, played through its child."""
