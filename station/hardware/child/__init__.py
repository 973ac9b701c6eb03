"""The audio child: the one process that touches PortAudio, and the tape it plays from."""
