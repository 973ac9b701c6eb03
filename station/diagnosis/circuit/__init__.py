"""A model revision as a circuit: its parts, its impedance and its sound."""
