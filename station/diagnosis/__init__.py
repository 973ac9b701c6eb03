"""Which part of a failing unit is most likely at fault."""
