"""Gauge studies, planned and guided on the screen."""
