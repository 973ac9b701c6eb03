"""`station power`: how well a limit file finds faults, on simulated production."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from station.cli.exitcodes import Exit
from station.cli.powertables import study_text
from station.cli.wiring import versions
from station.errors import RecordsError, RefusedInputError
from station.judging.shelf import shelved
from station.study.jobs import StudyPlan, ladders_for
from station.study.jsonform import study_as_object
from station.study.page import study_page
from station.study.power import power_study
from station.study.resultsfile import Header
from station.study.serials import simulated_model
from station.study.sourcecode import source_digest
from station.study.unitline import StudiedLimits, sha256_of

JSON_NAME, PAGE_NAME = "power.json", "power.html"
EVERY_FAULT = "all"
TENTHS = 10  # how often progress is told where no bar can be drawn


def study_power(
    limits: Path,
    *,
    units: int,
    per_rung: int,
    workers: int,
    seed: int,
    faults: str,
    out: Path | None,
    as_json: bool,
) -> int:
    """Study a limit file and tell what was found."""
    taken = shelved(limits)
    model = simulated_model(taken.limits)
    names = None if faults == EVERY_FAULT else names_among(faults)
    plan = StudyPlan(model, seed, units, per_rung, ladders_for(model.name, names))
    studied = StudiedLimits(limits, sha256_of(taken.text), seed)
    revision = taken.limits.model.revision
    header = Header(taken.name, studied.sha256, model.name, revision, seed, computing_versions())
    with progress_told(out) as tell:
        findings = power_study(plan, studied, header, out, workers=workers, on_done=tell)
    found = study_as_object(header, plan, findings)
    if out is not None:
        write(out / JSON_NAME, json.dumps(found, ensure_ascii=False, allow_nan=False, indent=1))
        write(out / PAGE_NAME, study_page(header, plan, findings))
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
        return Exit.PASS
    click.echo(study_text(header, plan, findings))
    if out is not None:
        click.echo(f"\nAs a page with curves: {out / PAGE_NAME}; as data: {out / JSON_NAME}")
    return Exit.PASS


def computing_versions() -> dict[str, str]:
    """Return the versions of everything that decides, this program to the letter."""
    return {**versions(), "code": source_digest(Path(__file__).parent.parent)}


def names_among(faults: str) -> list[str]:
    """Return the names of a list with commas."""
    names = [name.strip() for name in faults.split(",") if name.strip()]
    if not names:
        raise RefusedInputError("No fault is named.", "Write --faults NAME,NAME or --faults all.")
    return names


@contextmanager
def progress_told(out: Path | None) -> Iterator[Callable[[int, int], None]]:
    """Hold what shows progress on the error stream; when stopped, say how to go on."""
    so_far = 0
    with click.progressbar(
        label="units tested", length=1, file=sys.stderr, hidden=not sys.stderr.isatty()
    ) as bar:

        def tell(done: int, every: int) -> None:
            nonlocal so_far
            bar.length = every
            bar.update(done - so_far)
            if bar.hidden and (TENTHS * done) // every > (TENTHS * so_far) // every:
                click.echo(f"units tested: {done} of {every}", err=True)
            so_far = done

        try:
            yield tell
        except KeyboardInterrupt:
            if out is not None:
                click.echo(
                    f"\n{so_far} units are kept in {out}. The same command goes on from there.",
                    err=True,
                )
            raise


def write(path: Path, text: str) -> None:
    """Write a file of results."""
    try:
        path.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be written: {error.strerror}.",
            "Make room, then give the same command again: no unit is tested twice.",
        ) from error
