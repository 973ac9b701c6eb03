"""A small scripted batch of all models for a demonstration: mostly good units, some faults."""

from __future__ import annotations

from collections.abc import Mapping

Unit = tuple[str, Mapping[str, float]]

BATCH: tuple[Unit, ...] = (
    ("T2A00101", {}),
    ("T2A00102", {"reversed_tweeter": 1.0}),
    ("F6A00041", {}),
    ("F6A00042", {"low_bias": 0.25}),
    ("S12A00017", {}),
    ("T2A00103", {}),
    ("T2A00104", {"coil_rub": 70.0}),
    ("F6A00043", {}),
    ("S12A00018", {"wrong_filter_setting": 1.3}),
    ("T2A00105", {"station_silent_microphone": 1.0}),
    ("F6A00044", {"reversed_panel": 1.0}),
    ("T2A00106", {}),
)


def demo_batch() -> tuple[Unit, ...]:
    """Return serial numbers in the order they are scanned, each with its faults."""
    return BATCH
