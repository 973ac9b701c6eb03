"""The quality engineer's work: limits, statistics, the measurement system."""
