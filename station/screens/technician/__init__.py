"""The service technician's screen."""
