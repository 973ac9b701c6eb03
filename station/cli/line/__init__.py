"""What the line operator runs, and whoever judges recordings."""
