"""Limit files, tolerance bands and verdicts; no hardware."""
