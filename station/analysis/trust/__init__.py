"""Whether a recording, and each reading of it, can be believed."""
