"""What people at the station see."""
