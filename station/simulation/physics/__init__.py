"""Air, circuits, drivers and panels, as equations."""
