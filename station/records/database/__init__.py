"""The database file: its connection, its tables, and why nothing in them can change."""
