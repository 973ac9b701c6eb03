"""What is watched, in the words of tables and of one sentence."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from station.analysis.statistics.proportions import Proportion
from station.judging.verdicts.decisionwords import risk_words
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words
from station.quality.statistics.capability import Capability, Index
from station.quality.watching.causes import CauseRow
from station.quality.watching.curvecapability import OctaveCapability, worst_of
from station.quality.watching.drift import Drift, Moved, Shift
from station.quality.watching.numbers import DISTANCE_UNIT, Series, capability_of
from station.quality.watching.productionrisk import ReadingRisk
from station.quality.watching.watched import ToldAlarm, Watched
from station.quality.watching.yields import YieldRow

YIELD_HEADERS = ("period", "units", "passed at once (95 %)", "passed in the end", "void", "open")
CAUSE_HEADERS = ("reading", "side", "units", "share", "so far")
CAPABILITY_HEADERS = (
    "model", "reading", "units", "mean", "spread", "Cp", "Cpk (95 %)", "Pp", "Ppk (95 %)",
    "normal?",
)  # fmt: skip
CURVE_HEADERS = (
    "model", "curve", "octave", "worst at", "units", "mean", "spread", "Pp", "Ppk (95 %)",
    "normal?",
)  # fmt: skip
RISK_HEADERS = (
    "model", "reading", "units", "production σ", "u", "accepted", "consumer's risk",
    "producer's risk",
)  # fmt: skip


def yield_table(rows: Sequence[YieldRow]) -> list[tuple[str, ...]]:
    """Return a row for every period."""
    return [
        (
            row.name,
            str(row.units),
            share_words(row.first_pass),
            percent(row.in_the_end.ratio),
            str(row.void),
            str(row.undecided),
        )
        for row in rows
    ]


def cause_table(rows: Sequence[CauseRow]) -> list[tuple[str, ...]]:
    """Return a row for every cause."""
    return [
        (
            reading_words(row.reading),
            row.side,
            str(row.units),
            percent(row.share),
            percent(row.so_far),
        )
        for row in rows
    ]


def capability_table(series: Sequence[Series], size: int) -> list[tuple[str, ...]]:
    """Return a row for every judged number that there are units enough of."""
    found = ((one, capability_of(one, size)) for one in series)
    return [capability_row(one, result) for one, result in found if result is not None]


def capability_row(series: Series, found: Capability) -> tuple[str, ...]:
    """Return the row of a number."""
    unit = "" if series.unit == "ratio" else f" {series.unit}"
    return (
        series.model,
        reading_words(series.reading),
        str(found.n),
        f"{found.mean:.5g}{unit}",
        f"{found.overall:.2g}{unit}",
        index_words(found.cp),
        index_words(found.cpk, with_ends=True),
        index_words(found.pp),
        index_words(found.ppk, with_ends=True),
        normal_words(found),
    )


def normal_words(found: Capability) -> str:
    """Return whether values may be normal, and if not, what their indices stand on."""
    if found.spread is not None:
        return f"no (p {found.normality.p_value:.1g}): {found.spread.how}"
    if math.isnan(found.normality.p_value):
        return found.normality.test
    return f"p {found.normality.p_value:.2g}"


def curve_table(every: Sequence[OctaveCapability]) -> list[tuple[str, ...]]:
    """Return a row for every octave of every judged curve."""
    return [
        (
            one.series.model,
            reading_words(one.reading),
            frequency_words(one.centre_hz),
            frequency_words(one.at_hz),
            str(one.capability.n),
            f"{one.capability.mean:.4g} {one.series.unit}",
            f"{one.capability.overall:.2g} {one.series.unit}",
            index_words(one.capability.pp),
            index_words(one.capability.ppk, with_ends=True),
            normal_words(one.capability),
        )
        for one in every
    ]


def worst_sentence(every: Sequence[OctaveCapability]) -> str:
    """Return which point of all curves fits its limits least."""
    worst = worst_of(every)
    if worst is None:
        return "No curve can be told of yet."
    return (
        f"Worst point: {worst.series.model}, {reading_words(worst.series.reading)}, "
        f"Ppk {index_words(worst.capability.ppk, with_ends=True)}."
    )


def risk_table(risks: Iterator[ReadingRisk]) -> list[tuple[str, ...]]:
    """Return a row for every number whose risk is known."""
    return [
        (
            one.model,
            reading_words(one.reading),
            str(one.n),
            f"{one.production:.2g} {one.unit}",
            f"{one.measurement:.2g} {one.unit}",
            " to ".join("open" if math.isinf(end) else f"{end:.5g}" for end in one.acceptance),
            risk_words(one.risk.consumer),
            risk_words(one.risk.producer),
        )
        for one in risks
    ]


def alarm_sentences(watched: Watched) -> tuple[str, ...]:
    """Return one clear alarm, and after it what else moved; a single sentence if nothing did."""
    alarms = watched.alarms
    if not alarms:
        charted = len(watched.charts)
        if not charted:
            return (f"Nothing can be charted yet: {watched.wanted.baseline} units are needed.",)
        are = "reading is" if charted == 1 else "readings are"
        return (f"Nothing has moved: {charted} {are} where the baseline was.",)
    first, *others = alarms
    also = tuple(
        f"Also moved: {other.alarm.model} {reading_words(other.alarm.reading)}, "
        f"{shift_words(other)}."
        for other in others
    )
    return (f"ALARM  {alarm_sentence(first)}", cause_sentence(first), *also)


def alarm_sentence(told: ToldAlarm) -> str:
    """Return what moved, by how much and since when."""
    alarm = told.alarm
    return (
        f"{alarm.model}: {reading_words(alarm.reading)} has moved "
        f"{'up' if alarm.above else 'down'} by {amount(alarm.moved, alarm.unit)} since "
        f"{alarm.since_serial} ({alarm.since_utc:%Y-%m-%d %H:%M} UTC), seen by {alarm.chart}."
    )


def cause_sentence(told: ToldAlarm) -> str:
    """Return whether product or station moved, and what to do."""
    drift, names = told.drift, " or ".join(told.references)
    if told.alarm.unit == DISTANCE_UNIT:
        return (
            "A distance grows whichever way units differ, and does not say whether the product or "
            f"the station moved. Test {names or 'a reference unit'} now, and look at the levels."
        )
    if drift is None or drift.station is None or drift.product is None:
        which = f"Test {names} now" if names else "Name the reference units, and test one now"
        return (
            "Whether the product or the station moved cannot be told, because too few runs of a "
            f"reference unit lie before and after it. {which}."
        )
    facts = (
        f"the reference unit moved by {with_reach(drift.station, told.alarm.unit)}, the product "
        f"beyond that by {with_reach(drift.product, told.alarm.unit)}"
    )
    return {
        Moved.PRODUCT: f"It is the product: {facts}. Look at what changed in the parts.",
        Moved.STATION: f"It is the station: {facts}. Calibrate it before anything is reworked.",
        Moved.BOTH: f"Both moved: {facts}. Calibrate the station first.",
        Moved.UNKNOWN: f"It cannot be told yet what moved: {facts}. Test {names} more often.",
    }[drift.moved]


def shift_words(told: ToldAlarm) -> str:
    """Return how far a further alarm moved, and who did."""
    drift: Drift | None = told.drift
    known = drift is not None and told.alarm.unit != DISTANCE_UNIT
    who = f" ({drift.moved.value})" if drift and known and drift.moved is not Moved.UNKNOWN else ""
    return (
        f"{'up' if told.alarm.above else 'down'} {amount(told.alarm.moved, told.alarm.unit)}{who}"
    )


def amount(size: float, unit: str) -> str:
    """Return the size of a move."""
    return f"{abs(size):.2g}" if unit == "ratio" else f"{abs(size):.2g} {unit}"


def with_reach(shift: Shift, unit: str) -> str:
    """Return a signed move with its interval."""
    name = "" if unit == "ratio" else f" {unit}"
    return f"{shift.moved:+.2g} ± {shift.reach:.1g}{name}".replace("-", "−")


def index_words(index: Index, *, with_ends: bool = False) -> str:
    """Return an index to two decimals."""
    if math.isnan(index.value):
        return ""
    ends = f" ({index.lower:.2f} to {index.upper:.2f})" if with_ends else ""
    return f"{index.value:.2f}{ends}"


def share_words(share: Proportion) -> str:
    """Return a share with its interval."""
    if not share.n:
        return "none decided"
    ends = f"{percent(share.lower_ratio)} to {percent(share.upper_ratio)}"
    return f"{percent(share.ratio)} ({ends})"


def percent(ratio: float) -> str:
    """Return a share to a tenth of a percent."""
    return "" if math.isnan(ratio) else f"{100.0 * ratio:.1f} %"
