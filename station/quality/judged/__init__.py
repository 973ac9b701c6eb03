"""Limits against many stored units at once, to the same verdicts as one by one."""
