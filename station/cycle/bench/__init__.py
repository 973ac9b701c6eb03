"""What a station is made of, and what must hold while anything plays on it."""
