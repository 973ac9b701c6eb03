"""`station suspect` and `station repairs`: which part is likely at fault, and how often it was."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.suspectform import diagnosis_as_object
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import log_folder
from station.cycle.stored.confirmed import Comparison, comparisons, tally_of
from station.cycle.stored.suspicion import Suspicion, parts_of
from station.diagnosis.named.suspect import Diagnosis, Finding
from station.diagnosis.named.words import (
    blind_words,
    check_words,
    percent_words,
    summary_words,
    suspect_words,
    suspected_words,
)
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of
from station.judging.files.shelf import LimitShelf, limit_shelf
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.recordings.recording_file import read_recording

FORMAT = 1
HEADERS = ("", "suspect", "likely", "reason", "next check")
WIDTHS = (None, None, None, 40, 40)
REPAIR_HEADERS = ("serial", "model", "confirmed", "cause", "suspected, in order", "place")
REPAIR_WIDTHS = (None, None, None, 24, 34, None)
NOTHING_FAILED = "No run of it failed; this is the newest one."


def suspect_of_unit(
    serial: str, logs: Path, limits_folder: Path, *, simulate: bool, as_json: bool
) -> int:
    """Tell who is suspected of a unit's newest failing run, or of its newest run."""
    with opened_log(logs, simulate=simulate) as log:
        run = newest(log, serial, simulate=simulate)
    diagnosis = Suspicion().of_run(run, shelf_in(limits_folder))
    head = {
        "serial": run.serial,
        "model": run.model,
        "revision": run.revision,
        "run": run.run_id,
        "utc": run.started_utc.isoformat(),
        "verdict": run.judgement.verdict.value,
    }
    failed = run.judgement.verdict is Verdict.FAIL
    title = (
        f"{run.serial}  {run.model} revision {run.revision}  "
        f"{run.judgement.verdict.value.upper()} of {run.started_utc:%Y-%m-%d %H:%M:%S} UTC"
    )
    tell(head, title if failed else f"{title}. {NOTHING_FAILED}", diagnosis, as_json=as_json)
    return Exit.PASS


def suspect_of_recording(path: Path, limits_path: Path, *, as_json: bool) -> int:
    """Tell who is suspected of the fault that a recording shows."""
    limits, _ = limit_file(limits_path)
    recording, facts = read_recording(path)
    found = judged_recording(recording, plan_of(limits), limits)
    verdict = found.judgement.verdict.value
    diagnosis = Suspicion().of(parts_of(limits), found.measured.readings, found.judgement)
    head = {
        "serial": facts.serial or path.stem,
        "model": limits.model.name,
        "revision": limits.model.revision,
        "recording": str(path),
        "verdict": verdict,
    }
    title = f"{head['serial']}  {limits.model.name} revision {limits.model.revision}  "
    tell(head, f"{title}{verdict.upper()}", diagnosis, as_json=as_json)
    return Exit.PASS


@contextmanager
def opened_log(logs: Path, *, simulate: bool) -> Iterator[RunLog]:
    """Hold the log; raise RefusedInputError if there is none."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / "station.db").exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    with RunLog.open(folder) as log:
        yield log


def newest(log: RunLog, serial: str, *, simulate: bool) -> Run:
    """Return a unit's newest failing run, or its newest if none failed."""
    runs = log.runs_of(serial)
    if not runs:
        hint = "" if simulate else " Simulated units are found with --simulate."
        raise RefusedInputError(
            f"No run of {serial!r} is in the log.", f"Check the serial number.{hint}"
        )
    failing = [run for run in runs if run.judgement.verdict is Verdict.FAIL]
    return (failing or list(runs))[-1]


def shelf_in(folder: Path) -> LimitShelf | None:
    """Return the limit files of a folder, None if it is not there: the log has its own."""
    return limit_shelf(folder) if folder.is_dir() else None


def tell(head: dict[str, str], title: str, diagnosis: Diagnosis, *, as_json: bool) -> None:
    """Print a diagnosis."""
    if as_json:
        told = {"format": FORMAT, **head, **diagnosis_as_object(diagnosis)}
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False))
        return
    click.echo(title)
    click.echo(summary_words(diagnosis))
    if diagnosis.finding in (Finding.SUSPECTS, Finding.NOT_ONE_PART):
        click.echo(f"\n{suspect_table(diagnosis)}")
    if blind := blind_words(diagnosis):
        click.echo(f"\n{blind}")


def suspect_table(diagnosis: Diagnosis) -> str:
    """Return the suspects in order; a star marks those that together hold 95 %."""
    rows = [
        (
            "*" if at < diagnosis.group else "",
            suspected_words(one),
            percent_words(one.probability),
            suspect_words(one),
            check_words(one),
        )
        for at, one in enumerate(diagnosis.named)
    ]
    return plain_table(HEADERS, rows, WIDTHS)


def show_repairs(logs: Path, limits_folder: Path, *, simulate: bool, as_json: bool) -> int:
    """Show every cause a repair confirmed beside what was suspected, and how often it was right."""
    with opened_log(logs, simulate=simulate) as log:
        found = list(comparisons(log, shelf_in(limits_folder)))
    tally = tally_of(found)
    if as_json:
        told = {
            "format": FORMAT,
            **asdict(tally),
            "repairs": [asdict(one) for one in found],
        }
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False))
        return Exit.PASS
    if not found:
        click.echo("No repair has confirmed a cause yet.")
        return Exit.PASS
    click.echo(plain_table(REPAIR_HEADERS, [repair_row(one) for one in found], REPAIR_WIDTHS))
    click.echo(
        f"\nOf {tally.compared} tested before the repair, the confirmed part was suspected first "
        f"in {tally.first}, among the first three in {tally.in_first_few}."
    )
    return Exit.PASS


def repair_row(one: Comparison) -> tuple[str, str, str, str, str, str]:
    """Return one repair for the table."""
    place = "not tested" if not one.tested else "not named" if one.place is None else str(one.place)
    suspected = ", ".join(one.suspected[:3])
    return one.serial, one.model, one.confirmed, one.words, suspected, place
