"""A diagnosis in the technician's words: what seems wrong, and the next check to do.

Sentences are filled in from `messages`; `tell` translates one of them before that.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from station.diagnosis.circuit.building import box_name
from station.diagnosis.named import messages
from station.diagnosis.named.standardvalues import nearest_standard
from station.diagnosis.named.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect

Tell = Callable[[str], str]

ROUGH_RATIO = 0.05  # a value known no better is told to two digits
MOST_PERCENT = 99  # nothing inferred is ever certain
PREFIXES = ((1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
PREFIXED = ("Ω", "F", "H")
RESCALED: Mapping[str, tuple[float, str]] = {"kg": (1e3, "g"), "N/m": (1e-3, "N/mm")}


def as_written(message: str) -> str:
    """Return a message as it stands: the program's own language is English."""
    return message


def suspect_words(suspect: Suspect, tell: Tell = as_written) -> str:
    """Return what seems wrong with a suspect, as a sentence without its full stop."""
    return capitalised(said(suspect, tell))


def said(suspect: Suspect, tell: Tell) -> str:
    """Return what seems wrong with a suspect."""
    names = names_of(suspect, tell)
    estimate = suspect.estimate
    if estimate is None:
        names["part"] = named(suspect, tell)
        return tell(messages.SAID.get(suspect.found, messages.WRONG)).format(**names)
    if suspect.found in (Found.LEVEL, Found.BIAS):
        return level_words(suspect, estimate, tell)
    if suspect.found is Found.SHORTED_TURNS:
        return turns_words(suspect, estimate, tell)
    names["part"] = named(suspect, tell)
    words = tell(messages.MEASURED[suspect.found]).format(
        **names,
        value=value_words(estimate.value, estimate.unit, estimate.uncertainty),
        nominal=nominal_words(estimate),
    )
    standard = standard_value(suspect.found, estimate)
    if standard is None:
        return words
    value = round_words(standard, estimate.unit)
    return tell(messages.STANDARD_HINT).format(words=words, value=value)


def names_of(suspect: Suspect, tell: Tell) -> dict[str, str]:
    """Return a suspect's names for the gaps of a message."""
    return {"part": part_words(suspect.part, tell), "beside": part_words(suspect.beside, tell)}


def part_words(part: str, tell: Tell) -> str:
    """Return what a part is called."""
    if not part:
        return ""
    owner = part.removesuffix(box_name(""))
    if owner and owner != part:
        return tell(messages.BOX).format(part=tell(owner))
    return tell(part)


def named(suspect: Suspect, tell: Tell) -> str:
    """Return a suspect's name in a sentence: a driver's has an article, a designator none."""
    part = part_words(suspect.part, tell)
    if suspect.kind in (PartKind.COMPONENT, PartKind.TRANSFORMER) or suspect.found not in (
        Found.OPEN,
        Found.BRIDGED,
        Found.RESISTANCE,
        Found.VALUE,
    ):
        return part
    return tell(messages.WITH_ARTICLE).format(part=part)


def level_words(suspect: Suspect, estimate: Estimate, tell: Tell) -> str:
    """Return how loud a section is whose impedance is right."""
    message = messages.QUIETER if estimate.value < 0.0 else messages.LOUDER
    part, value = part_words(suspect.part, tell), f"{abs(estimate.value):.1f} dB"
    words = tell(message).format(part=part, value=value)
    return tell(messages.LOW_BIAS).format(words=words) if suspect.found is Found.BIAS else words


def turns_words(suspect: Suspect, estimate: Estimate, tell: Tell) -> str:
    """Return how many turns seem shorted."""
    part = part_words(suspect.part, tell)
    if suspect.kind is PartKind.DRIVER:
        percent = max(1, round(100.0 * estimate.value))
        return tell(messages.TURNS).format(part=part, percent=percent)
    value = value_words(estimate.value, estimate.unit, estimate.uncertainty)
    return tell(messages.WINDING_TURNS).format(part=part, value=value)


def check_words(suspect: Suspect, tell: Tell = as_written) -> str:
    """Return the next check to do."""
    own = messages.PART_CHECKS.get((suspect.kind, suspect.found))
    message = own or messages.CHECKS.get(suspect.found)
    if message is None:
        panel = suspect.kind is PartKind.PANEL
        message = messages.PANEL_CHECK if panel else messages.COMPONENT_CHECK
    words = tell(message).format(**names_of(suspect, tell))
    return f"{words} {tell(messages.HIGH_VOLTAGE)}" if message in messages.DANGEROUS else words


def nominal_words(estimate: Estimate) -> str:
    """Return the value a part should have, with its tolerance."""
    words = round_words(estimate.nominal, estimate.unit)
    if math.isnan(estimate.tolerance):
        return words
    return f"{words} ± {100.0 * estimate.tolerance:.2g} %"


def standard_value(found: Found, estimate: Estimate) -> float | None:
    """Return which standard value would read so, if another than the nominal one does."""
    if found is not Found.VALUE or not estimate.value > 0.0:
        return None
    standard = nearest_standard(estimate.value)
    inside = abs(math.log(standard / estimate.value))
    spread = estimate.uncertainty / estimate.value + estimate.tolerance
    off = abs(math.log(standard / estimate.nominal))
    return None if inside > spread or off < estimate.tolerance else standard


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


def suspected_words(suspect: Suspect, tell: Tell = as_written) -> str:
    """Return whom a suspect accuses: a part, or two that were exchanged."""
    names = names_of(suspect, tell)
    return tell(messages.PAIR).format(**names) if suspect.beside else names["part"]


def others_words(diagnosis: Diagnosis, tell: Tell = as_written) -> str:
    """Return whom else it may be, as likely as the first for all that was measured."""
    others = diagnosis.suspects[1 : diagnosis.group]
    word = tell(messages.OR)
    return " ".join(f"{word} {suspected_words(one, tell)}" for one in others)


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


def summary_words(diagnosis: Diagnosis, tell: Tell = as_written) -> str:
    """Return what a diagnosis comes to, in a sentence or two."""
    match diagnosis.finding:
        case Finding.NOT_POSSIBLE:
            return tell(diagnosis.why_not)
        case Finding.NOTHING:
            return tell(messages.NOTHING)
        case Finding.NOT_ONE_PART:
            return tell(messages.UNEXPLAINED)
    others = others_words(diagnosis, tell)
    first = suspect_words(diagnosis.suspects[0], tell)
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
