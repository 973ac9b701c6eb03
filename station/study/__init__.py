"""How well a limit file finds faults, and how often it blames good units: simulated studies."""
