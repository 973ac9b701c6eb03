"""The line operator's screen."""
