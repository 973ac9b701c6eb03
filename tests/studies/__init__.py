"""Proof studies: how exact, how repeatable and up to where. Each module prints a table."""
