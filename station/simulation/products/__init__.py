"""The three demo products, their production spread and their faults."""
