"""The log, and its parts: runs, services, gauge studies, watching, look-up, export, events."""
