"""What happens on a line: which units arrive, with what faults, and what is mended."""
