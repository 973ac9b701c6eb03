"""What changed between two revisions of a limit file, in words."""
