"""Bench, limits, log and rights put together for a command."""
