"""Quantities on paper: where the program has an English word for a unit, its sign stands there."""

from __future__ import annotations

from station.judging.words.words import measured_words, quantity_words
from station.reports.translations import Language


def unit_on_paper(language: Language, unit: str) -> str:
    """Return a unit as it stands alone, such as beside an axis; nothing for a ratio."""
    signs = {"ratio": "", "deg": "°", "sigma": "σ", "dB/octave": language.text("dB/octave")}
    return signs.get(unit, unit)


def quantity_on_paper(language: Language, value: float, unit: str) -> str:
    """Return a value with its unit; its figures are still those of the log."""
    return with_sign(language, quantity_words(value, unit), unit)


def measured_on_paper(language: Language, value: float, unit: str, uncertainty: float) -> str:
    """Return a value with its standard uncertainty, if it states one, in the figures of the log."""
    return with_sign(language, measured_words(value, unit, uncertainty), unit)


def with_sign(language: Language, words: str, unit: str) -> str:
    """Return words of a quantity with its unit as paper writes it."""
    value = words.removesuffix(f" {unit}")
    if value == words:  # a ratio, or a unit with a prefix
        return words
    gap = "" if unit == "deg" else " "  # SI brochure, 5.4.3
    return f"{value}{gap}{unit_on_paper(language, unit)}"
