"""Limit files as files: read, checked whole, found by serial number."""
