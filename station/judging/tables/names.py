"""The names of the readings that a limit file asks for."""

from __future__ import annotations

from station.analysis.gathering import (
    CLOSED_BOX_NAMES,
    COMPRESSION_NAMES,
    DIPOLE_NAMES,
    DRIVER_NAMES,
    FILTER_NAMES,
    IDLE_NAMES,
    IDLE_NOISE_NAMES,
    IMPEDANCE_CURVE_NAMES,
    IMPEDANCE_NUMBER_NAMES,
    NOISE_PREFIX,
    PANEL_NAMES,
    PATTERN_NAMES,
    RESONANCE_NAMES,
    RUB_NAMES,
)
from station.judging.tables.readingtables import ReadingsTable


def curve_names(readings: ReadingsTable) -> tuple[str, ...]:
    """Return the names of all curves that will be computed."""
    names = ["response"]
    if readings.distortion is not None:
        names += ["thd", *(f"h{order}" for order in readings.distortion.orders)]
    heard = [*names, *(("rub",) if readings.rub is not None else ())]
    if readings.rub is not None:
        names += RUB_NAMES
    if readings.impedance is not None:
        names += IMPEDANCE_CURVE_NAMES
    return (*names, *(f"{NOISE_PREFIX}{name}" for name in heard))


def number_names(readings: ReadingsTable) -> tuple[str, ...]:
    """Return the names of all numbers that will be computed."""
    names = ["ambient", "delay", "voltage"]
    if readings.sensitivity is not None:
        names.append("sensitivity")
    if readings.impedance is not None:
        names += IMPEDANCE_NUMBER_NAMES
        if readings.impedance.rated_ohm is not None:
            names.append("impedance_margin")
    for table, of_table in (
        (readings.resonance, RESONANCE_NAMES),
        (readings.driver, DRIVER_NAMES),
        (readings.closed_box, CLOSED_BOX_NAMES),
        (readings.panel, PANEL_NAMES),
        (readings.idle_noise, (*IDLE_NAMES, *IDLE_NOISE_NAMES)),
        (readings.filter, FILTER_NAMES),
        (readings.compression, COMPRESSION_NAMES),
        (readings.dipole, DIPOLE_NAMES),
        (readings.pattern, PATTERN_NAMES),
    ):
        if table is not None:
            names += of_table
    for section in readings.sections:
        names += [f"polarity.{section.name}", f"level.{section.name}"]
    return tuple(names)
