"""Upkeep of a log: backup, verification, letting recordings go."""
