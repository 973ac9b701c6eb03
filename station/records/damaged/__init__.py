"""A damaged database: noticed, set aside, and what proves itself taken over."""
