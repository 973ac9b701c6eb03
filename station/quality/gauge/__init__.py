"""The measurement system: gauge studies, and stations compared."""
