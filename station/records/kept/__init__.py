"""What the log keeps for ever, each kind as a plain object."""
