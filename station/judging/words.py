"""Quantities in the words of a sentence."""

from __future__ import annotations


def frequency_words(frequency_hz: float) -> str:
    """Return a frequency as people say it: 63 Hz, 2.5 kHz."""
    if frequency_hz < 1000.0:
        return f"{frequency_hz:.3g} Hz"
    return f"{frequency_hz / 1000.0:.3g} kHz"


def quantity_words(value: float, unit: str) -> str:
    """Return a value with its unit, to the digits that matter at the line."""
    if unit == "ratio":
        return f"{value:.2f}"
    if unit == "Hz":
        return f"{value:.1f} Hz"
    digits = 2 if unit in ("Ω", "V") else 1
    return f"{value:.{digits}f} {unit}"
