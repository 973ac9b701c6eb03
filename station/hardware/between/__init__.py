"""What the station and its audio child say to each other, and how."""
