"""The names of the readings that a limit file asks for."""

from __future__ import annotations

from station.judging.tables import ReadingsTable


def curve_names(readings: ReadingsTable) -> tuple[str, ...]:
    """Return the names of all curves that will be computed."""
    names = ["response"]
    if readings.distortion is not None:
        names += ["thd", *(f"h{order}" for order in readings.distortion.orders)]
    if readings.rub is not None:
        names += ["rub", "rub_crest"]
    if readings.impedance is not None:
        names += ["impedance", "impedance_phase"]
    return tuple(names)


def number_names(readings: ReadingsTable) -> tuple[str, ...]:
    """Return the names of all numbers that will be computed."""
    names = ["ambient", "delay", "voltage"]
    if readings.sensitivity is not None:
        names.append("sensitivity")
    if readings.impedance is not None:
        names += ["impedance_min", "impedance_min_hz"]
    if readings.resonance is not None:
        names.append("fs")
    for section in readings.sections:
        names += [f"polarity.{section.name}", f"level.{section.name}"]
    return tuple(names)
