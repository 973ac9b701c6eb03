"""What is kept as rows of the log, and back."""
