"""Speakers, fixture and converters as physics, behind the hardware's Protocols."""
