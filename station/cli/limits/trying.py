"""`station limits try`: what a draft would have said of every stored unit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import click

from station.cli.limits.tryingforms import Tried, heading, tried_as_json, tried_text, warnings
from station.cli.shared.exitcodes import Exit
from station.cli.shared.pagefile import write_page
from station.cli.shared.progress import progress_told
from station.cli.wiring.wiring import log_folder, versions
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import Verdict
from station.quality.judged.manyunits import as_the_line, judged_units
from station.quality.judged.plan import pattern_differs, tables_that_differ, unread_limits
from station.quality.judged.units import Choice, StoredUnits, chosen_runs, stored_units
from station.quality.whatif.pattern import with_pattern
from station.quality.whatif.pictures import band_pictures
from station.quality.whatif.recordings import KeptRecording, draft_file, read_anew
from station.quality.whatif.report import Ending, endings_of, stored_endings, what_if
from station.quality.whatif.results import tried_file
from station.records.kept.run import RecordingRef
from station.records.log.log import RunLog
from station.records.log.production import left_out
from station.records.summaries.runlist import ListedRun
from station.reports.triedpage import tried_page

WORST_CURVES = 5  # of each band, on a page


def opened_log(logs: Path, *, simulate: bool) -> RunLog:
    """Return a log that is there already."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / "station.db").exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    return RunLog.open(folder)


def try_draft(
    draft: Path,
    choice: Choice,
    logs: Path,
    *,
    simulate: bool,
    against: Path | None,
    from_recordings: bool,
    workers: int,
    out: Path | None,
    worst: int,
    page: Path | None,
    as_json: bool,
) -> int:
    """Judge the chosen runs by a draft and tell what changes."""
    if against is not None and from_recordings:
        raise RefusedInputError(
            "Recordings are compared with how they were judged.",
            "Leave out --against or --from-recordings.",
        )
    if out is not None and not from_recordings:
        raise RefusedInputError("Stored readings need no folder to go on from.", "Leave out --out.")
    with opened_log(logs, simulate=simulate) as log:
        if from_recordings:
            tried = tried_on_recordings(log, draft, choice, workers, out)
        else:
            tried = tried_on_readings(log, draft, choice, against, pictured=page is not None)
        tried = replace(tried, left_out=left_out(log, tried.model, choice.period))
    if page is not None:
        notes = tuple(warnings(tried))
        write_page(page, tried_page(heading(tried), notes, tried.changes, tried.pictures))
    click.echo(tried_as_json(tried, worst) if as_json else tried_text(tried, worst))
    return Exit.PASS


def tried_on_readings(
    log: RunLog, path: Path, choice: Choice, against: Path | None, *, pictured: bool
) -> Tried:
    """Return what a draft says of stored readings, against how they were judged or a file."""
    limits, text = limit_file(path)
    model = limits.model
    units = with_population(log, stored_units(log, model.name, choice), limits, text)
    found = judged_units(units.readings, limits)
    before = stored_endings(units.runs)
    if against is not None:
        before = endings_under(log, against, model.name, units)
    pictures = band_pictures(units, limits, found.limits, WORST_CURVES) if pictured else ()
    return Tried(
        path.name,
        model.name,
        model.revision,
        against.name if against else None,
        units.runs,
        what_if(
            units.runs,
            before,
            endings_of(as_the_line(units.readings, limits, found, units.untrusted)),
        ),
        differing_tables(log, units.runs, text),
        unread_limits(found),
        from_recordings=False,
        pictures=tuple(pictures),
    )


def with_population(log: RunLog, units: StoredUnits, limits: LimitFile, text: str) -> StoredUnits:
    """Return units with their distance from the draft's population, where it is another one."""
    texts = {run.limit_sha256 for run in units.runs}
    if not any(pattern_differs(log.limit_text(key), text) for key in texts):
        return units
    return replace(units, readings=with_pattern(units.readings, limits))


def endings_under(log: RunLog, path: Path, model: str, units: StoredUnits) -> list[Ending]:
    """Return how units end under another limit file of the same model."""
    limits, text = limit_file(path)
    if limits.model.name != model:
        raise RefusedInputError(
            f"{path} is for {limits.model.name}, the draft for {model}.", "Name two of one model."
        )
    read = with_population(log, units, limits, text).readings
    found = judged_units(read, limits)
    return endings_of(as_the_line(read, limits, found, units.untrusted))


def differing_tables(log: RunLog, runs: Sequence[ListedRun], text: str) -> tuple[str, ...]:
    """Return the tables by which the draft would read otherwise than the runs were read."""
    texts = dict.fromkeys(run.limit_sha256 for run in runs)
    differing: dict[str, None] = {}
    for key in texts:
        differing |= dict.fromkeys(tables_that_differ(log.limit_text(key), text))
    return tuple(differing)


def tried_on_recordings(
    log: RunLog, path: Path, choice: Choice, workers: int, out: Path | None
) -> Tried:
    """Return what a draft says of recordings, all of it read anew."""
    limits, _ = limit_file(path)
    draft = draft_file(path)
    model = limits.model
    runs = chosen_runs(log, model.name, choice)
    with (
        progress_told("recordings judged", out) as tell,
        tried_file(out, draft.sha256, versions()) as results,
    ):
        left = [kept for run in runs if (kept := kept_recording(log, run)) is not None]
        left = [kept for kept in left if kept.run_id not in results.known]
        counted = counting(tell, len(runs) - len(left), len(runs))
        for read in read_anew(draft, left, workers):
            results.add(read.run_id, read.ending)
            counted()
        unheard = Ending(Verdict.VOID)
        after = [results.known.get(run.run_id, unheard) for run in runs]
    changes = what_if(runs, stored_endings(runs), after)
    return Tried(
        path.name, model.name, model.revision, None, runs, changes, (), (), from_recordings=True
    )


def counting(tell: Callable[[int, int], None], done: int, every: int) -> Callable[[], None]:
    """Return what counts one more, and tells."""
    tell(done, max(every, 1))

    def one_more() -> None:
        nonlocal done
        done += 1
        tell(done, every)

    return one_more


def kept_recording(log: RunLog, run: ListedRun) -> KeptRecording | None:
    """Return where a run's recording is, None if it kept none."""
    if run.recording_name is None or run.recording_sha256 is None:
        return None
    path = log.path_of(RecordingRef(run.recording_name, run.recording_sha256))
    return KeptRecording(run.run_id, path, run.recording_sha256)
