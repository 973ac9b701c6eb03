"""The commands and their options; each imports what it needs only when it runs."""
