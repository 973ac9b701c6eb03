"""One unit from scan to stored verdict, and unit after unit."""
