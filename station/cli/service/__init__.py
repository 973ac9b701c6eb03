"""What the service technician runs: look-up, service, suspects, paper."""
