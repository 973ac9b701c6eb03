"""Limit files: checked, learned, tried, studied, released."""
