"""Calibrating the inputs of a station, and how they stand."""
