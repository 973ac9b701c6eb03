"""The simulated station around a unit: room, microphones, amplifier, converter, fixture."""
