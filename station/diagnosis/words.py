"""A diagnosis in the technician's words: what seems wrong, and the next check to do."""

from __future__ import annotations

import math
from collections.abc import Mapping

from station.diagnosis.standardvalues import nearest_standard
from station.diagnosis.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect

UNEXPLAINED = "No single part explains this: two faults at once, or one that is not foreseen."
NOTHING = "Impedance and sound of every section fit parts inside their tolerances."
HIGH_VOLTAGE = "High voltage: only a trained person may open the panel."
ROUGH_RATIO = 0.05  # a value known no better is told to two digits
MOST_PERCENT = 99  # nothing inferred is ever certain
PREFIXES = ((1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
PREFIXED = ("Ω", "F", "H")
RESCALED: Mapping[str, tuple[float, str]] = {"kg": (1e3, "g"), "N/m": (1e-3, "N/mm")}

SAID: Mapping[Found, str] = {
    Found.OPEN: "{part} seems open",
    Found.BRIDGED: "{part} seems bridged",
    Found.COIL: "the voice coil of the {part} seems to be another one",
    Found.ANOTHER: "another driver seems to be fitted as the {part}",
    Found.SWAPPED: "{part} and {beside} seem to stand in each other's place",
    Found.TORN: "the surround of the {part} seems torn: it is softer, and the box leaks",
    Found.LEAK: "the {part} seems to leak",
    Found.REVERSED: "the leads of the {part} are reversed",
    Found.COIL_RUB: "the voice coil of the {part} seems to rub",
    Found.LOOSE: "something loose seems to buzz in or at the box",
    Found.ARCING: "the {part} seems to arc",
    Found.SENSE: "the station's current sense seems off: every impedance is, by one ratio",
}
MEASURED: Mapping[Found, str] = {
    Found.VALUE: "{part} reads {value}, nominal {nominal}",
    Found.RESISTANCE: "{part} has {value} in series, nominal {nominal}",
    Found.MOTOR: "the force factor of the {part} is {value}, nominal {nominal}",
    Found.MASS: "the moving mass of the {part} is {value}, nominal {nominal}",
    Found.SUSPENSION: "the stiffness of the {part} is {value}, nominal {nominal}",
    Found.LOSSES: "the mechanical losses of the {part} are {value}, nominal {nominal}",
    Found.CONTACT: "the leads to the unit have {value}, nominal {nominal}",
}
DRIVER_CHECK = "Disconnect the {part} and measure it alone."
CHECKS: Mapping[Found, str] = {
    Found.ANOTHER: "Compare the type on the {part} with the parts list.",
    Found.COIL: DRIVER_CHECK,
    Found.MOTOR: DRIVER_CHECK,
    Found.MASS: "Look for something stuck to the cone of the {part}, then compare its type.",
    Found.SUSPENSION: "Feel the surround and the spider of the {part}, then measure it alone.",
    Found.LOSSES: DRIVER_CHECK,
    Found.SWAPPED: "Read the values printed on {part} and {beside}.",
    Found.TORN: "Look at the surround of the {part}, and listen for air at it.",
    Found.LEAK: "Press on the seals and the terminal plate while a low tone plays.",
    Found.LEVEL: "Exchange the {part} for a good one and measure again.",
    Found.BIAS: f"Check the bias supply and its lead. {HIGH_VOLTAGE}",
    Found.REVERSED: "Swap red and black at the {part}.",
    Found.COIL_RUB: "Move the cone of the {part} by hand and feel for the coil.",
    Found.LOOSE: "Listen with a slow sweep and press on what may be loose.",
    Found.ARCING: f"Look for dust and damage on the panel in the dark. {HIGH_VOLTAGE}",
    Found.CONTACT: "Clean the contacts of the fixture and measure again.",
    Found.SENSE: "Calibrate the current, then measure the reference unit.",
}
PART_CHECKS: Mapping[tuple[PartKind, Found], str] = {
    (PartKind.COMPONENT, Found.OPEN): "Check the joints of {part}, then unsolder one end and "
    "measure it.",
    (PartKind.COMPONENT, Found.BRIDGED): "Look for a solder bridge at {part}, then unsolder one "
    "end and measure it.",
    (PartKind.DRIVER, Found.OPEN): "Measure the {part} at its own terminals: no resistance means "
    "a broken coil or lead.",
    (PartKind.DRIVER, Found.BRIDGED): "Look for a short at the terminals of the {part}.",
    (PartKind.DRIVER, Found.SHORTED_TURNS): DRIVER_CHECK,
    (PartKind.DRIVER, Found.RESISTANCE): "Check the leads and terminals of the {part}, then "
    "measure it alone.",
    (PartKind.TRANSFORMER, Found.OPEN): f"Measure the windings of {{part}}. {HIGH_VOLTAGE}",
}
COMPONENT_CHECK = "Unsolder one end of {part} and measure it."
PANEL_CHECK = f"Measure the capacitance of the {{part}} at its leads. {HIGH_VOLTAGE}"


def suspect_words(suspect: Suspect) -> str:
    """Return what seems wrong with a suspect, as a sentence without its full stop."""
    return capitalised(said(suspect))


def said(suspect: Suspect) -> str:
    """Return what seems wrong with a suspect."""
    names = {"part": named(suspect), "beside": suspect.beside}
    estimate = suspect.estimate
    if estimate is None:
        return SAID.get(suspect.found, "{part} seems wrong").format(**names)
    if suspect.found in (Found.LEVEL, Found.BIAS):
        return level_words(suspect, estimate)
    if suspect.found is Found.SHORTED_TURNS:
        return turns_words(suspect, estimate)
    words = MEASURED[suspect.found].format(
        **names,
        value=value_words(estimate.value, estimate.unit, estimate.uncertainty),
        nominal=nominal_words(estimate),
    )
    hint = standard_hint(suspect.found, estimate)
    return f"{words}{hint}"


def named(suspect: Suspect) -> str:
    """Return a suspect's name in a sentence: a driver's has an article, a designator none."""
    if suspect.kind is PartKind.COMPONENT or suspect.found not in (
        Found.OPEN,
        Found.BRIDGED,
        Found.RESISTANCE,
        Found.VALUE,
    ):
        return suspect.part
    return suspect.part if suspect.kind is PartKind.TRANSFORMER else f"the {suspect.part}"


def level_words(suspect: Suspect, estimate: Estimate) -> str:
    """Return how loud a section is whose impedance is right."""
    side = "quieter" if estimate.value < 0.0 else "louder"
    words = (
        f"the {suspect.part} is {abs(estimate.value):.1f} dB {side} while its impedance is right"
    )
    return f"{words}: its bias is low or missing" if suspect.found is Found.BIAS else words


def turns_words(suspect: Suspect, estimate: Estimate) -> str:
    """Return how many turns seem shorted."""
    if suspect.kind is PartKind.DRIVER:
        percent = max(1, round(100.0 * estimate.value))
        return f"about {percent} % of the turns of the {suspect.part} seem shorted"
    value = value_words(estimate.value, estimate.unit, estimate.uncertainty)
    return f"{suspect.part} seems to have shorted turns: it reads {value}"


def check_words(suspect: Suspect) -> str:
    """Return the next check to do."""
    names = {"part": suspect.part, "beside": suspect.beside}
    own = PART_CHECKS.get((suspect.kind, suspect.found)) or CHECKS.get(suspect.found)
    if own is None:
        own = PANEL_CHECK if suspect.kind is PartKind.PANEL else COMPONENT_CHECK
    return own.format(**names)


def nominal_words(estimate: Estimate) -> str:
    """Return the value a part should have, with its tolerance."""
    words = round_words(estimate.nominal, estimate.unit)
    if math.isnan(estimate.tolerance):
        return words
    return f"{words} ± {100.0 * estimate.tolerance:.2g} %"


def standard_hint(found: Found, estimate: Estimate) -> str:
    """Return which standard value would read so, if another than the nominal one does."""
    if found is not Found.VALUE or not estimate.value > 0.0:
        return ""
    standard = nearest_standard(estimate.value)
    inside = abs(math.log(standard / estimate.value))
    spread = estimate.uncertainty / estimate.value + estimate.tolerance
    off = abs(math.log(standard / estimate.nominal))
    if inside > spread or off < estimate.tolerance:
        return ""
    return f"; a part of {round_words(standard, estimate.unit)} would read so"


def value_words(value: float, unit: str, uncertainty: float = math.nan) -> str:
    """Return a value with the prefix people write, to the digits its uncertainty leaves."""
    factor, shown = 1.0, unit
    if unit in RESCALED:
        scale, shown = RESCALED[unit]
        factor = 1.0 / scale
    elif unit in PREFIXED and value != 0.0:
        factor, prefix = next((pair for pair in PREFIXES if abs(value) >= pair[0]), PREFIXES[-1])
        shown = f"{prefix}{unit}"
    digits = 2 if uncertainty > ROUGH_RATIO * abs(value) else 3
    return f"{plain(value / factor, digits)} {shown}"


def round_words(value: float, unit: str) -> str:
    """Return a value as it is printed on a part: 4.7 µF, 12 µF."""
    number, _, shown = value_words(value, unit).partition(" ")
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {shown}"


def plain(value: float, digits: int) -> str:
    """Return a number with so many digits and no power of ten."""
    if value == 0.0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{places}f}"


def capitalised(words: str) -> str:
    """Return words with the first letter large."""
    return words[:1].upper() + words[1:]


def percent_words(probability: float) -> str:
    """Return a probability as people say it."""
    return f"{min(round(100.0 * probability), MOST_PERCENT)} %"


def others_words(diagnosis: Diagnosis) -> str:
    """Return whom else it may be, as likely as the first for all that was measured."""
    names = [
        f"{one.part} and {one.beside}" if one.beside else one.part
        for one in diagnosis.suspects[1 : diagnosis.group]
    ]
    return f"or {' or '.join(names)}" if names else ""


def suspect_line(diagnosis: Diagnosis) -> str:
    """Return the one line for the operator's screen; empty where nobody is suspected."""
    first = diagnosis.first
    if first is None:
        return ""
    likely = percent_words(first.probability)
    words = f"{suspect_words(first)} ({likely})"
    if others := others_words(diagnosis):
        words += f", {others}"
    if diagnosis.finding is Finding.NOT_ONE_PART:
        return f"{words}. More than one part may be wrong."
    return f"{words}. {check_words(first)}"


def summary_words(diagnosis: Diagnosis) -> str:
    """Return what a diagnosis comes to, in a sentence or two."""
    match diagnosis.finding:
        case Finding.NOT_POSSIBLE:
            return diagnosis.why_not
        case Finding.NOTHING:
            return NOTHING
        case Finding.NOT_ONE_PART:
            return UNEXPLAINED
    others = others_words(diagnosis)
    first = suspect_words(diagnosis.suspects[0])
    return f"{first}, {others}." if others else f"{first}."


def blind_words(diagnosis: Diagnosis) -> str:
    """Return what hardly shows, in a sentence; empty if all does."""
    by_part: dict[str, list[str]] = {}
    for part, what in diagnosis.blind:
        by_part.setdefault(part, []).append(what)
    if not by_part:
        return ""
    told = "; ".join(f"{part}: {', '.join(what)}" for part, what in by_part.items())
    return f"Hardly shows in the impedance: {told}."
