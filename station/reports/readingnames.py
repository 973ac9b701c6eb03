"""What readings are called on paper, in the language of the paper."""

from __future__ import annotations

from station.diagnosis.named.messages import PARTS
from station.reports.translations import Language


def reading_name(language: Language, reading: str) -> str:
    """Return what a reading is called; one without a name of its own keeps that of the log."""
    _ = language.text
    whole = {
        "response": _("Frequency response"),
        "response.offset": _("Level of the frequency response"),
        "sensitivity": _("Sensitivity"),
        "thd": _("Total harmonic distortion"),
        "rub": _("Rub and buzz"),
        "rub_crest": _("Rub and buzz, crest"),
        "impedance": _("Impedance"),
        "impedance_phase": _("Phase of the impedance"),
        "impedance_min": _("Lowest impedance"),
        "impedance_min_hz": _("Frequency of the lowest impedance"),
        "impedance_margin": _("Lowest impedance above what is rated"),
        "fs": _("Resonance frequency"),
        "re": _("Resistance of the voice coil"),
        "idle_noise": _("Idle noise"),
        "hum": _("Mains hum"),
        "hum_prominence": _("Mains hum above the noise"),
        "panel_capacitance": _("Capacitance of the panel"),
        "leakage_inductance": _("Leakage inductance of the transformer"),
        "panel_minimum_hz": _("Frequency of the lowest impedance of the panel"),
        "inductive_above": _("Inductive above"),
        "filter_corner": _("Corner frequency of the filter"),
        "filter_slope": _("Slope of the filter"),
        "pattern.distance": _("Distance from the production"),
        "pattern.modes": _("Distance from the production along its modes"),
        "pattern.rest": _("Distance from the production beside its modes"),
        "dipole": _("Correlation of front and back"),
        "qms": _("Mechanical quality factor"),
        "qes": _("Electrical quality factor"),
        "qts": _("Total quality factor"),
        "qtc_excess": _("Excess of the quality factor in the box"),
        "compression": _("Compression at the highest level"),
        "compression_onset": _("Voltage where compression sets in"),
        "compliance_ratio": _("Compliance over that of the box"),
        "dipole_opposite": _("Largest opposite correlation of front and back"),
        "dipole_delay": _("Delay of the back"),
        "delay": _("Delay of the sound"),
        "ambient": _("Noise in the room"),
        "recording": _("Recording"),
        "unit": _("Unit"),
        "room": _("Noise in the room"),
        "microphone": _("Microphone"),
        "rear": _("Rear microphone"),
        "voltage": _("Voltage"),
        "current": _("Current"),
    }
    return whole.get(reading) or composed_name(language, reading)


def input_name(language: Language, role: str) -> str:
    """Return what an input is called by its role; what is none, as a reading."""
    _ = language.text
    names = {
        "microphone": _("Microphone"),
        "ambient": _("Ambient microphone"),
        "rear": _("Rear microphone"),
        "voltage": _("Voltage"),
        "current": _("Current sense"),
    }
    return names.get(role) or reading_name(language, role)


def composed_name(language: Language, reading: str) -> str:
    """Return the name of a reading of a section, of a harmonic, or about another reading."""
    _ = language.text
    kind, _dot, of = reading.partition(".")
    if not of:
        order = reading[1:]
        known = reading[:1] == "h" and order.isdigit()
        return _("Harmonic {order}").format(order=order) if known else reading
    section = _(of) if of in PARTS else of
    names = {
        "polarity": _("Polarity, {what}").format(what=section),
        "level": _("Level, {what}").format(what=section),
        "rub_cause": _("Chance that it is {what}").format(what=rub_words(language, of)),
    }
    if kind in ("noise", "room"):
        words = _("Noise in {what}") if kind == "noise" else _("The room's share of {what}")
        return words.format(what=reading_name(language, of))
    return names.get(kind, reading)


def rub_words(language: Language, cause: str) -> str:
    """Return what makes a rub or buzz."""
    _ = language.text
    names = {
        "coil_rub": _("coil rub"),
        "loose_part": _("a loose part"),
        "air_leak": _("an air leak"),
        "panel_arcing": _("panel arcing"),
    }
    return names.get(cause, cause)
