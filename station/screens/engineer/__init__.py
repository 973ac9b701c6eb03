"""The quality engineer's screen."""
