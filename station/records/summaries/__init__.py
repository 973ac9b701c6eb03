"""Runs in numbers: lists, shifts, the station's checks."""
