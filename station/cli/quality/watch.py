"""`station watch`: yields, causes, capability, risk, and what has moved."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.pagefile import write_page
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import log_folder
from station.errors import RefusedInputError
from station.quality.watching.asjson import (
    alarms_as_object,
    capability_as_object,
    causes_as_object,
    risks_as_object,
    yields_as_object,
)
from station.quality.watching.curvecapability import OctaveCapability, octave_capabilities
from station.quality.watching.curves import CurvePoint, judged_curves, point_named
from station.quality.watching.leftout import left_out_as_object, left_out_sentence
from station.quality.watching.productionrisk import production_risks
from station.quality.watching.watched import Wanted, Watched, watched_production
from station.quality.watching.words import (
    CAPABILITY_HEADERS,
    CAUSE_HEADERS,
    CURVE_HEADERS,
    RISK_HEADERS,
    YIELD_HEADERS,
    alarm_sentences,
    capability_table,
    cause_table,
    curve_table,
    risk_table,
    worst_sentence,
    yield_table,
)
from station.quality.watching.yields import Period, yield_rows
from station.records.files.places import DATABASE_NAME
from station.records.log.log import RunLog
from station.records.log.watch import WatchLog
from station.reports.watchpage import watch_page


@dataclass(frozen=True, slots=True)
class WatchOptions:
    """What every view of production takes."""

    logs: Path
    simulate: bool
    wanted: Wanted
    as_json: bool


@contextmanager
def watch_log(options: WatchOptions) -> Iterator[WatchLog]:
    """Hold a log that is there already."""
    folder = log_folder(options.logs, simulated=options.simulate)
    if not (folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    with RunLog.open(folder) as log:
        yield WatchLog(log)


def looked_at(options: WatchOptions) -> Watched:
    """Return the span of production that is asked for."""
    with watch_log(options) as log:
        return watched_production(log, options.wanted)


def looked_at_with_curves(options: WatchOptions) -> tuple[Watched, tuple[OctaveCapability, ...]]:
    """Return the span of production, and the capability along its curves."""
    with watch_log(options) as log:
        watched = watched_production(log, options.wanted)
        curves = judged_curves(log, watched.units)
        return watched, octave_capabilities(curves, options.wanted.subgroup)


def told(
    options: WatchOptions,
    watched: Watched,
    text: Callable[[], str],
    contents: Callable[[], dict[str, Any]],
) -> int:
    """Print a text, or an object instead, and how many runs do not count."""
    if options.as_json:
        found = {**contents(), "left_out": left_out_as_object(watched.left_out)}
        click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
        return Exit.PASS
    click.echo(text())
    if sentence := left_out_sentence(watched.left_out):
        click.echo(sentence)
    return Exit.PASS


def show_yield(options: WatchOptions, by: str, shift_starts: str) -> int:
    """Show yields by period."""
    period = Period(by)
    starts = times_of(shift_starts)
    if period is Period.SHIFT and not starts:
        raise RefusedInputError(
            "Shifts need the times they begin.", "Add --shift-starts, such as 05:00,13:00,21:00."
        )
    watched = looked_at(options)
    rows = yield_rows(watched.units, period, starts)
    return told(
        options,
        watched,
        lambda: plain_table(YIELD_HEADERS, yield_table(rows)),
        lambda: yields_as_object(rows),
    )


def show_causes(options: WatchOptions) -> int:
    """Show what units failed by."""
    watched = looked_at(options)
    rows = watched.causes
    return told(
        options,
        watched,
        lambda: plain_table(CAUSE_HEADERS, cause_table(rows)) if rows else "No unit failed.",
        lambda: causes_as_object(rows),
    )


def show_capability(options: WatchOptions) -> int:
    """Show the capability of every judged number, and along every judged curve."""
    watched, octaves = looked_at_with_curves(options)
    size = options.wanted.subgroup

    def text() -> str:
        too_few = "There are too few units of every model."
        numbers = table_or(CAPABILITY_HEADERS, capability_table(watched.series, size), too_few)
        if not octaves:
            return numbers
        curves = plain_table(CURVE_HEADERS, curve_table(octaves))
        return "\n\n".join([numbers, curves, worst_sentence(octaves)])

    return told(options, watched, text, lambda: capability_as_object(watched.series, size, octaves))


def show_risk(options: WatchOptions) -> int:
    """Show how many wrong verdicts the decision rules give."""
    watched = looked_at(options)
    risks = tuple(production_risks(watched.series, watched.texts))
    return told(
        options,
        watched,
        lambda: table_or(
            RISK_HEADERS,
            risk_table(iter(risks)),
            "No limit file states the uncertainty of a number in a [decision] table, or there "
            "are too few units.",
        ),
        lambda: risks_as_object(risks),
    )


def show_alarms(options: WatchOptions) -> int:
    """Say what has moved, and whether it is the product or the station."""
    watched = looked_at(options)
    return told(
        options,
        watched,
        lambda: "\n".join(alarm_sentences(watched)),
        lambda: alarms_as_object(watched),
    )


def write_watch_page(options: WatchOptions, out: Path) -> int:
    """Write everything as one page."""
    watched, octaves = looked_at_with_curves(options)
    write_page(out, watch_page(watched, octaves, span_words(options)))
    return Exit.PASS


def span_words(options: WatchOptions) -> str:
    """Return which runs are looked at."""
    wanted = options.wanted
    ends = [
        f"{name} {instant:%Y-%m-%d %H:%M} UTC"
        for name, instant in (("from", wanted.since_utc), ("until", wanted.until_utc))
        if instant is not None
    ]
    where = "simulated runs" if options.simulate else "all stations of this log"
    return "; ".join([where, wanted.model or "all models", *(ends or ["all days"])])


def table_or(headers: Sequence[str], rows: Sequence[Sequence[str]], otherwise: str) -> str:
    """Return a table, or a sentence where it has no rows."""
    return plain_table(headers, rows) if rows else otherwise


def times_of(listed: str) -> list[time]:
    """Return times of day that stand between commas."""
    try:
        return [time.fromisoformat(one.strip()) for one in listed.split(",") if one.strip()]
    except ValueError as error:
        raise RefusedInputError(
            f"{listed!r} holds something that is no time of day.", "Write hours and minutes: 06:00."
        ) from error


def points_of(given: Sequence[str]) -> tuple[CurvePoint, ...]:
    """Return curves at single frequencies, each written CURVE@HZ."""
    points = []
    for word in given:
        if (point := point_named(word)) is None:
            raise RefusedInputError(
                f"{word!r} is no curve at a frequency.", "Write it as response@1000, in Hz."
            )
        points.append(point)
    return tuple(points)


def instant_of(text: str | None) -> datetime | None:
    """Return an instant; one without a zone is UTC."""
    if text is None:
        return None
    try:
        instant = datetime.fromisoformat(text)
    except ValueError as error:
        raise RefusedInputError(
            f"{text!r} is no date or time.", "Write it as 2026-11-25 or 2026-11-25T14:00."
        ) from error
    return instant if instant.tzinfo else instant.replace(tzinfo=UTC)
