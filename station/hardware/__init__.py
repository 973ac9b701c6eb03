"""Protocols of the station's devices, and their real drivers."""
