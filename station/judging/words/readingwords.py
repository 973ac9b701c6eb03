"""What people call the readings."""

from __future__ import annotations

from station.judging.words.words import frequency_words

AT_HZ = "@"  # between a curve and one of its frequencies

READING_NAMES = {
    "thd": "harmonic distortion",
    "rub": "rub and buzz",
    "rub_crest": "rub and buzz crest",
    "impedance_min": "lowest impedance",
    "impedance_min_hz": "frequency of the lowest impedance",
    "impedance_margin": "lowest impedance above its rating",
    "inductive_above": "frequency above which the impedance is inductive",
    "panel_minimum_hz": "frequency of the panel's lowest impedance",
    "re": "voice coil resistance",
    "qms": "mechanical quality factor",
    "qes": "electrical quality factor",
    "qts": "total quality factor",
    "qtc_excess": "excess of the quality factor in the box",
    "compression": "compression at the highest level",
    "compression_onset": "voltage where compression sets in",
    "filter_corner": "corner frequency of the filter",
    "filter_slope": "slope of the filter",
    "dipole": "front-to-back correlation",
    "pattern.distance": "distance from the production",
    "pattern.modes": "distance from the production along its modes",
    "pattern.rest": "distance from the production beside its modes",
    "fs": "resonance frequency",
    "ambient": "ambient level",
}


def reading_words(reading: str) -> str:
    """Return a reading's name in words: "polarity.woofer" is the woofer polarity.

    A curve at one frequency, "response@1000", is the response at 1 kHz.
    """
    curve, at, frequency = reading.partition(AT_HZ)
    if at:
        return f"{reading_words(curve)} at {frequency_words(float(frequency))}"
    if reading in READING_NAMES:
        return READING_NAMES[reading]
    if reading[:1] == "h" and reading[1:].isdecimal():
        return f"harmonic {reading[1:]}"
    base, _, section = reading.partition(".")
    return f"{section} {base}".strip().replace("_", " ")
