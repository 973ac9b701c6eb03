"""What the voltage and the current at the terminals tell about a unit."""
