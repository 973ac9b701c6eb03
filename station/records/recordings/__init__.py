"""Recordings as files, the facts they carry, and which of them are let go."""
