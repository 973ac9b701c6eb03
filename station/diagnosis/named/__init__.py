"""The suspects, and how they are told to people."""
