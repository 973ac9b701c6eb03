"""Whether the station has proved itself lately: by a reference unit that reads as it always did.

Is it the product or the station? A unit that is kept and never changes can tell. Everything
follows from the log, so a check made meanwhile counts from the next unit on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from station.analysis.acoustic.pairmatch import pair_match
from station.analysis.readings import Curve
from station.cycle.bench.bench import Bench
from station.cycle.calibration.calibrationstate import day_words
from station.errors import NoSignalError, StationFaultError
from station.hardware.files.checktables import CheckTable
from station.judging.verdicts.verdict import Judgement, Verdict
from station.judging.words.readingwords import reading_words
from station.records.kept.run import Run, SetApart
from station.records.log.log import RunLog
from station.records.summaries.stationchecks import CheckRun, SinceCheck

RESPONSE = "response"


NEXT_STEPS = {
    Verdict.PASS: "The station is checked. Put the reference unit away.",
    Verdict.FAIL: "Test no units. Call the technician: the station or the reference unit changed.",
}


def said_at_station(table: CheckTable | None, serial: str, judgement: Judgement) -> Judgement:
    """Return a judgement with the next step that a reference unit asks for, if it is one.

    A void stays as it is: its remedy is the station's own.
    """
    if not is_reference(table, serial) or judgement.verdict not in NEXT_STEPS:
        return judgement
    return replace(judgement, next_step=NEXT_STEPS[judgement.verdict])


def set_apart_at_station(
    table: CheckTable | None, serial: str, set_apart: SetApart | None
) -> SetApart | None:
    """Return what a unit is tested for: a reference unit for a check, if for nothing else."""
    return SetApart.CHECK if set_apart is None and is_reference(table, serial) else set_apart


def is_reference(table: CheckTable | None, serial: str) -> bool:
    """Return whether a unit is one of those that prove the station."""
    return table is not None and serial in table.serials


def check_is_due(bench: Bench, log: RunLog, serial: str) -> None:
    """Refuse to test a unit while a check of the station is due; reference units always may.

    Raises
    ------
    StationFaultError
        If no check was made, or the newest one failed, is too old, or no longer holds.
    """
    table = bench.station.check
    if table is None or serial in table.serials:
        return
    happened = why_due(table, bench.station.name, log, bench.clock.utc_now())
    if happened is not None:
        raise StationFaultError(happened, remedy_of(table.serials))


def why_due(table: CheckTable, station: str, log: RunLog, now_utc: datetime) -> str | None:
    """Return why a check of the station is due, as one sentence; None if none is."""
    found = log.newest_check(station, table.serials)
    if found is None:
        return "The station was never checked with a reference unit."
    check, since = found
    return (
        by_verdict(check)
        or by_time(table, check, now_utc)
        or by_units(table, check, since)
        or by_causes(table, since)
        or by_drift(table, *log.first_and_newest_pass(station, check.serial))
    )


def remedy_of(serials: Sequence[str]) -> str:
    """Return what to do about a check that is due."""
    return f"Put a reference unit into the fixture and scan it: {' or '.join(serials)}."


def by_verdict(check: CheckRun) -> str | None:
    """Say that the newest check did not pass."""
    if check.verdict is Verdict.PASS:
        return None
    ended = "failed" if check.verdict is Verdict.FAIL else "could not be measured"
    return f"The reference unit {check.serial} {ended} on {day_words(check.started_utc)}."


def by_time(table: CheckTable, check: CheckRun, now_utc: datetime) -> str | None:
    """Say that the newest check is too old, or lies in the future."""
    if check.started_utc > now_utc:
        return f"The last station check is of {day_words(check.started_utc)}: the clock is off."
    if now_utc - check.started_utc < timedelta(hours=table.every_hours):
        return None
    day = day_words(check.started_utc)
    return f"The last station check, of {day}, is over its {table.every_hours:g} hours."


def by_units(table: CheckTable, check: CheckRun, since: SinceCheck) -> str | None:
    """Say that too many units were tested since."""
    if since.units < table.every_units:
        return None
    day = day_words(check.started_utc)
    return f"{since.units} units were tested since the last station check, of {day}."


def by_causes(table: CheckTable, since: SinceCheck) -> str | None:
    """Say that the newest units all failed for one cause: product or station."""
    newest = since.causes[: table.same_cause_fails]
    if len(newest) < table.same_cause_fails or newest[0] is None or len(set(newest)) > 1:
        return None
    return f"{len(newest)} units in a row failed by their {reading_words(newest[0])}."


def by_drift(table: CheckTable, first: Run, newest: Run) -> str | None:
    """Say that a reference unit no longer reads as in its first passed run."""
    before, after = (run.readings.curves.get(RESPONSE) for run in (first, newest))
    if before is None or after is None or not same_grid(before, after):
        return None  # judged by another revision, which reads other frequencies
    try:
        match = pair_match(
            before.frequency_hz,
            before.values,
            after.values,
            float(before.frequency_hz[0]),
            float(before.frequency_hz[-1]),
        )
    except NoSignalError:
        return None
    unit, day = newest.serial, day_words(first.started_utc)
    if abs(match.level_db) > table.level_drift_db:
        return f"The reference unit {unit} reads {match.level_db:+.2f} dB against that of {day}."
    if match.shape_max_db > table.shape_drift_db:
        return (
            f"The response of the reference unit {unit} has changed by {match.shape_max_db:.2f} dB "
            f"at {match.worst_hz:.0f} Hz since {day}."
        )
    return None


def same_grid(one: Curve, other: Curve) -> bool:
    """Return whether two curves were read at the same frequencies."""
    return np.array_equal(one.frequency_hz, other.frequency_hz)
