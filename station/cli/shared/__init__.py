"""What several commands print, read or refuse alike."""
