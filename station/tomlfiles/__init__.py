"""TOML files with every fault reported at once, each with file and line."""
