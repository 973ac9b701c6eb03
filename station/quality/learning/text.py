"""A draft: the limit file at hand with learned values, and comments on where they came from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from station.analysis.gathering import PATTERN_NAMES
from station.judging.tables.tables import LimitFile
from station.quality.drafts.text import (
    Change,
    Changes,
    changed_text,
    number_toml,
    points_toml,
    text_toml,
)
from station.quality.learning.check import HeldBack
from station.quality.learning.learn import Learned, LearnedLimits, LearningRule

DISTANCE = "pattern.distance"
PLACEHOLDER = 9.0
LISTED = 8  # units set aside that are named


@dataclass(frozen=True, slots=True)
class Origin:
    """What a draft was learned from, by whom, and what it is to be called."""

    units: int
    first_day: str
    last_day: str
    day: date
    revision: str | None = None
    holds_from: str | None = None
    author: str | None = None
    reason: str | None = None
    set_aside: Sequence[tuple[str, str]] = ()  # serial number, why
    check: HeldBack | None = None


def draft_text(text: str, learned: LearnedLimits, rule: LearningRule, origin: Origin) -> str:
    """Return a limit file's text with learned values and with words on where they came from."""
    entries = {
        **{("bands", band.place): band_change(band, rule, origin) for band in learned.bands},
        **{("numbers", one.place): number_change(one, rule, origin) for one in learned.numbers},
    }
    return changed_text(text, Changes({"model": model_change(rule, origin)}, entries))


def text_with_reference(text: str, limits: LimitFile, values: Mapping[str, str]) -> str:
    """Return a limit file's text with another reference unit, or with its first."""
    if limits.reference is not None:
        return changed_text(text, Changes({"reference": Change(values)}))
    table = "".join(f"{name} = {value}\n" for name, value in values.items())
    return changed_text(text, Changes(added=(f"[reference]\n{table}",)))


def text_with_pattern(text: str, limits: LimitFile, curve: str, file: str, sha256: str) -> str:
    """Return a limit file's text that names a population, and judges the distance from it.

    The limit on the distance, where there was none, is only a place for the learned one.
    """
    values = {"file": text_toml(file), "sha256": text_toml(sha256), "curve": text_toml(curve)}
    added = []
    if limits.readings.pattern is None:
        table = "".join(f"{name} = {value}\n" for name, value in values.items())
        added.append(f"[readings.pattern]\n{table}")
        changes = Changes()
    else:
        changes = Changes({"readings.pattern": Change(values)})
    if not any(limit.reading in PATTERN_NAMES for limit in limits.numbers):
        added.append(f'[[numbers]]\nreading = "{DISTANCE}"\nupper = {PLACEHOLDER}\nscale = 1\n')
    return changed_text(text, Changes(changes.tables, {}, tuple(added)))


def model_change(rule: LearningRule, origin: Origin) -> Change:
    """Return the draft's name, and above it how it came about."""
    reason = origin.reason or f"Learned from {origin.units} units."
    values = {"day": origin.day.isoformat(), "reason": text_toml(reason)}
    told = {name: getattr(origin, name) for name in ("revision", "holds_from", "author")}
    values |= {name: text_toml(given) for name, given in told.items() if given is not None}
    return Change(values, tuple(f"# {line}" for line in summary(rule, origin)))


def summary(rule: LearningRule, origin: Origin) -> list[str]:
    """Return in a few lines how a draft came about."""
    lines = [
        f"Learned on {origin.day} from {origin.units} units tested {origin.first_day} to "
        f"{origin.last_day}.",
        f"{percent(rule.coverage)} of good units pass all limits at once, with a confidence of "
        f"{percent(rule.confidence)};",
        "centre: median; width: held-out largest deviations, shared evenly among the limits.",
    ]
    if origin.check is not None:
        lines.append(
            f"Judged by limits learned without them, {origin.check.failed} of "
            f"{origin.check.units} units fail."
        )
    if origin.set_aside:
        named = ", ".join(f"{serial} ({why})" for serial, why in origin.set_aside[:LISTED])
        more = len(origin.set_aside) - LISTED
        lines.append(f"Set aside: {named}{f' and {more} more' if more > 0 else ''}.")
    return lines


def percent(ratio: float) -> str:
    """Return a share in percent."""
    return f"{100.0 * ratio:.6g} %"


def band_change(band: Learned, rule: LearningRule, origin: Origin) -> Change:
    """Return a band's new values with its comment."""
    points = [(point.hz, point.lower, point.upper) for point in band.points]
    values = {"points": points_toml(points)}
    if band.offset_db is not None:
        values["offset_db"] = number_toml(band.offset_db)
    return Change(values, comment_on(band, rule, origin))


def number_change(one: Learned, rule: LearningRule, origin: Origin) -> Change:
    """Return a number's new limits with their comment."""
    return Change(ends_of(one), comment_on(one, rule, origin))


def ends_of(one: Learned) -> dict[str, str]:
    """Return the limits of a number that are there."""
    ends: Mapping[str, float | None] = {"lower": one.lower, "upper": one.upper}
    return {name: number_toml(value) for name, value in ends.items() if value is not None}


def comment_on(one: Learned, rule: LearningRule, origin: Origin) -> tuple[str, ...]:
    """Return how one limit came about."""
    least = rule.at_least.get(one.reading)
    floor = f", at least ± {least:g}" if least is not None and one.widened else ""
    return (
        f"# median ± {one.factor:.2f} standard deviations of {origin.units} units, "
        f"learned {origin.day}{floor}",
    )
