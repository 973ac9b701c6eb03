"""`station limits learn`: a draft from the good units in the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from station.cli.limits.learningforms import learned_text
from station.cli.limits.trying import counting, differing_tables, kept_recording, opened_log
from station.cli.shared.exitcodes import Exit
from station.cli.shared.progress import progress_told
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file, limit_file_from_text
from station.judging.files.patternfile import beside, write_pattern
from station.judging.tables.tables import LimitFile
from station.quality.drafts.file import copy_pattern, refuse_to_overwrite, told, write_draft
from station.quality.judged.units import Choice, StoredUnits, stored_units
from station.quality.learning.check import held_back
from station.quality.learning.learn import LearningRule, learned_limits
from station.quality.learning.pattern import learned_population
from station.quality.learning.reference import reference_from, reference_values, typical_unit
from station.quality.learning.text import (
    Origin,
    draft_text,
    text_with_pattern,
    text_with_reference,
)
from station.quality.watching.leftout import left_out_sentence
from station.quality.whatif.recordings import draft_file, read_anew
from station.records.columns.columns import Columns, columns_of
from station.records.log.log import RunLog
from station.records.log.production import left_out
from station.records.recordings.recording_file import read_recording


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be learned besides the limits, and how the draft is called."""

    from_recordings: bool
    new_reference: bool
    pattern: str | None
    explained: float
    workers: int
    revision: str | None
    holds_from: str | None
    author: str | None
    reason: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What limits are learned on: a limit file's text, and units read by it."""

    text: str
    limits: LimitFile
    folder: Path  # of the population that the text names
    units: StoredUnits

    @property
    def readings(self) -> Columns:
        """What was read of them."""
        return self.units.readings


def learn_limits(
    base: Path,
    out: Path,
    choice: Choice,
    rule: LearningRule,
    wanted: Wanted,
    logs: Path,
    *,
    simulate: bool,
    day: date,
) -> int:
    """Write a draft, and tell what was learned and how held-back units fare."""
    refuse_to_overwrite(out)
    with opened_log(logs, simulate=simulate) as log:
        ground = ground_of(log, base, choice, wanted)
        left = left_out(log, ground.limits.model.name, choice.period)
    if wanted.pattern is not None:
        ground = with_population(ground, wanted.pattern, wanted.explained, pattern_beside(out))
    learned = learned_limits(ground.readings, ground.limits, rule)
    check = held_back(ground.readings, ground.limits, rule, learned.members)
    runs = ground.units.runs
    origin = Origin(
        units=int(learned.members.size),
        first_day=runs[0].started_utc[:10],
        last_day=runs[-1].started_utc[:10],
        day=day,
        check=check,
        revision=wanted.revision,
        holds_from=wanted.holds_from,
        author=wanted.author,
        reason=wanted.reason,
        set_aside=tuple((runs[row].serial, why) for row, why in learned.set_aside.items()),
    )
    text = draft_text(ground.text, learned, rule, origin)
    write_draft(out, text, ground.limits, ground.folder)
    click.echo(learned_text(out, learned, ground.limits, origin, rule))
    if sentence := left_out_sentence(left):
        click.echo(f"\n{sentence}")
    return Exit.PASS


def ground_of(log: RunLog, base: Path, choice: Choice, wanted: Wanted) -> Ground:
    """Return the chosen units, as the limit file reads them, with another reference if wanted."""
    limits, text = limit_file(base)
    units = stored_units(log, limits.model.name, choice)
    if wanted.new_reference:
        text = text_with_reference(text, limits, typical_reference(log, units, limits))
    if wanted.new_reference or wanted.from_recordings:
        return read_again(log, base, text, units, wanted.workers)
    if differing := differing_tables(log, units.runs, text):
        names = " and ".join(f"[{name}]" for name in differing)
        click.echo(
            f"Some units were read by another {names} than this file's; --from-recordings reads "
            "them anew.",
            err=True,
        )
    return Ground(text, limits, base.parent, units)


def typical_reference(log: RunLog, units: StoredUnits, limits: LimitFile) -> dict[str, str]:
    """Return what a limit file keeps of the most typical unit's response."""
    run = units.runs[typical_unit(units.readings)]
    kept = kept_recording(log, run)
    if kept is None:
        raise RefusedInputError(
            f"{run.serial}, the most typical unit, has no recording.",
            "Choose units whose recordings are kept.",
        )
    recording, _ = read_recording(kept.path)
    words = f"{run.serial} (closest to the median of {len(units.runs)})"
    return reference_values(words, reference_from(recording, limits))


def read_again(log: RunLog, base: Path, text: str, units: StoredUnits, workers: int) -> Ground:
    """Return units whose recordings were read by a limit file's text; those without are left."""
    recordings = [kept for run in units.runs if (kept := kept_recording(log, run)) is not None]
    with TemporaryDirectory() as folder, progress_told("recordings read", None) as tell:
        path = Path(folder) / base.name
        path.write_text(text, encoding="utf-8")
        limits, _ = limit_file(base)
        copy_pattern(limits, base.parent, path.parent)
        limits, _ = limit_file(path)
        counted = counting(tell, 0, max(len(recordings), 1))
        readings = {}
        for read in read_anew(draft_file(path), recordings, workers):
            readings[read.run_id] = read.readings
            counted()
    runs = tuple(run for run in units.runs if run.run_id in readings)
    columns = columns_of([readings[run.run_id] for run in runs])
    return Ground(text, limits, base.parent, StoredUnits(runs, columns))


def with_population(ground: Ground, curve: str, explained_ratio: float, path: Path) -> Ground:
    """Return units with their distance from the population they make, which is written to a file.

    It lies beside the draft, which names it by its hash.
    """
    refuse_to_overwrite(path)
    units, limits = ground.units, ground.limits
    serials = tuple(run.serial for run in units.runs)
    pattern, readings = learned_population(units.readings, serials, limits, curve, explained_ratio)
    with told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        sha256 = write_pattern(path, pattern)
    text = text_with_pattern(ground.text, limits, curve, path.name, sha256)
    limits = limit_file_from_text(text, "the draft", beside(path.parent))
    return Ground(text, limits, path.parent, StoredUnits(units.runs, readings))


def pattern_beside(out: Path) -> Path:
    """Return where the population of a draft goes."""
    return out.with_suffix(".pattern.json")
