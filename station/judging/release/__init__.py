"""Released limit files: keys, signatures, and what is refused."""
