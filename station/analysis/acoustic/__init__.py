"""What the microphones tell about a unit."""
