"""What else the quality engineer runs: production watched, gauge studies, the screen."""
