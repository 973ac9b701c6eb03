"""Limits learned from good units."""
