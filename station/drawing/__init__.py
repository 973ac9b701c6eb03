"""Pages and charts that need nothing but themselves, for the screen and for paper."""
