"""Values of a limit file in the words of its history."""

from __future__ import annotations

from collections.abc import Mapping

from station.judging.words.words import frequency_words

SUFFIXES: tuple[tuple[str, str], ...] = (  # a longer one before one it ends with
    ("_db_spl", "dB SPL"),
    ("_dbfs", "dBFS"),
    ("_db", "dB"),
    ("_hz", "Hz"),
    ("_ohm", "Ω"),
    ("_s", "s"),
    ("_v", "V"),
    ("_a", "A"),
    ("_m", "m"),
)
UNITS: Mapping[str, str] = {
    "response": "dB",
    "thd": "dB",
    "rub": "dB",
    "rub_crest": "dB",
    "impedance": "Ω",
    "impedance_phase": "°",
    "impedance_min": "Ω",
    "re": "Ω",
    "fs": "Hz",
    "filter_corner": "Hz",
    "sensitivity": "dB",
    "ambient": "dB",
    "idle_noise": "dB",
    "hum": "dB",
    "hum_prominence": "dB",
    "voltage": "V",
}
PREFIX_UNITS: tuple[tuple[str, str], ...] = (
    ("level.", "dB"),
    ("noise.", "dB"),
    ("pattern.", "sigma"),
)
LONGEST_VALUE = 60


def unit_of_reading(reading: str) -> str:
    """Return the unit of a reading, empty where it has none or it is not known here."""
    if reading in UNITS:
        return UNITS[reading]
    if reading[:1] == "h" and reading[1:].isdecimal():
        return "dB"
    if reading.endswith("_hz"):
        return "Hz"
    return next((unit for prefix, unit in PREFIX_UNITS if reading.startswith(prefix)), "")


def label_and_unit(key: str) -> tuple[str, str]:
    """Return a field's name without its unit, and the unit."""
    for suffix, unit in SUFFIXES:
        if key.endswith(suffix):
            return key.removesuffix(suffix).replace("_", " "), unit
    return key.replace("_", " "), ""


def value_words(value: object, unit: str = "") -> str:
    """Return a value with its unit; a long one is cut."""
    if isinstance(value, bool) or value is None:
        return "not set" if value is None else str(value).lower()
    if isinstance(value, int | float):
        if unit == "Hz" and value >= 0:
            return frequency_words(value)
        return with_unit(f"{value:.6g}".replace("-", "−"), unit)
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, list | tuple):
        text = ", ".join(value_words(one, unit) for one in value)
    else:
        text = str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 1]}…"


def change_words(change: float, unit: str) -> str:
    """Return by how much a value moved, with its sign."""
    return with_unit(f"{change:+.4g}".replace("-", "−"), unit)


def with_unit(number: str, unit: str) -> str:
    """Return a number with its unit, if it has one."""
    space = "" if unit in ("", "°") else " "
    return f"{number}{space}{unit}"
