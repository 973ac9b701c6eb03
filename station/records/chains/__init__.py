"""Chained rows: each covers the hash of the one before it, so that no change goes unseen."""
