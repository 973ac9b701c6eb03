"""One test from scan to stored verdict; no screen, no device names."""
