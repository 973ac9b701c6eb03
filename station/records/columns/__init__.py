"""The readings of many runs side by side, in a copy beside the log to be read at once."""
