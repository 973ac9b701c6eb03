"""What a technician needs to know of a unit that came back, and what is done with it."""
