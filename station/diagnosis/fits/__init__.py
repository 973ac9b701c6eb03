"""What may be wrong with a unit, and how well each of it fits what was measured."""
