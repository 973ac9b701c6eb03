"""What readings are called on paper, in the language of the paper."""

from __future__ import annotations

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
        "ambient": _("Noise in the room"),
        "recording": _("Recording"),
    }
    if reading in whole:
        return whole[reading]
    kind, _dot, section = reading.partition(".")
    sections = {"woofer": _("woofer"), "tweeter": _("tweeter"), "panel": _("panel")}
    of = sections.get(section, section)
    if kind == "polarity" and section:
        return _("Polarity, {section}").format(section=of)
    if kind == "level" and section:
        return _("Level, {section}").format(section=of)
    if reading[:1] == "h" and reading[1:].isdigit():
        return _("Harmonic {order}").format(order=reading[1:])
    return reading
