"""One trial of a unit, judged but not stored, and when another one is due."""
