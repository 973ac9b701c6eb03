"""End-of-line test station for finished loudspeakers."""
