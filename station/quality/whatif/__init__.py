"""What a draft would change, tried on stored units, or on units not yet built."""
