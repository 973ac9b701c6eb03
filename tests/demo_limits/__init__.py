"""How the demo limit files in `limits/` were made, for whoever wants to make them again."""
