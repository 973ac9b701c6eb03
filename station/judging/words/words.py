"""Quantities in the words of a sentence."""

from __future__ import annotations

import math

PREFIXED_UNITS = ("F", "H", "s")  # of sizes that nobody writes in the unit itself
PREFIXES = ((1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
UNCERTAINTY_DIGITS = 2
MOST_DIGITS = 6  # of a value, however small its uncertainty


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
    if unit in PREFIXED_UNITS:
        factor, prefix = prefix_of(value)
        return f"{value / factor:#.3g}".rstrip(".") + f" {prefix}{unit}"
    digits = 2 if unit in ("Ω", "V", "sigma") else 1
    return f"{value:.{digits}f} {unit}"


def measured_words(value: float, unit: str, uncertainty: float) -> str:
    """Return a value with its standard uncertainty, if it states one, both to the same place.

    JCGM 100:2008, 7.2.6: an uncertainty has two digits at most, and the value ends where it does.
    """
    if not uncertainty > 0.0 or not math.isfinite(uncertainty):
        return quantity_words(value, unit)
    factor, prefix = prefix_of(value) if unit in PREFIXED_UNITS else (1.0, "")
    spread = uncertainty / factor
    largest = max(abs(value) / factor, spread)
    place = max(last_place(spread, UNCERTAINTY_DIGITS), last_place(largest, MOST_DIGITS))
    digits = max(0, -place)
    step = 10.0**place
    least = max(1, round(spread / step)) * step
    words = f"{round(value / factor / step) * step:.{digits}f} ± {least:.{digits}f}"
    return words if unit == "ratio" else f"{words} {prefix}{unit}"


def last_place(size: float, digits: int) -> int:
    """Return the power of ten of the last of so many digits."""
    return math.floor(math.log10(size)) - digits + 1


def prefix_of(value: float) -> tuple[float, str]:
    """Return the decimal prefix that leaves one to three digits before the point."""
    for factor, prefix in PREFIXES:
        if abs(value) >= factor:
            return factor, prefix
    return PREFIXES[-1] if value else PREFIXES[0]
