"""`station power`: how well a limit file finds faults, on simulated production."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.limits.powertables import study_text
from station.cli.shared.exitcodes import Exit
from station.cli.shared.progress import progress_told
from station.cli.wiring.wiring import versions
from station.errors import RecordsError, RefusedInputError
from station.judging.files.shelf import shelved
from station.study.jobs import StudyPlan, ladders_for
from station.study.jsonform import study_as_object
from station.study.page import study_page
from station.study.power import power_study
from station.study.resultsfile import Header
from station.study.serials import simulated_model
from station.study.sourcecode import source_digest
from station.study.unitline import StudiedLimits, sha256_of

JSON_NAME, PAGE_NAME = "power.json", "power.html"
EVERY_FAULT, NO_FAULT = "all", "none"


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
    with progress_told("units tested", out) as tell:
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
    return {**versions(), "code": source_digest(Path(__file__).parents[2])}


def names_among(faults: str) -> list[str]:
    """Return the names of a list with commas; no names of the word that says so."""
    if faults == NO_FAULT:
        return []
    names = [name.strip() for name in faults.split(",") if name.strip()]
    if not names:
        raise RefusedInputError(
            "No fault is named.",
            "Write --faults NAME,NAME=SEVERITY, --faults all or --faults none.",
        )
    return names


def write(path: Path, text: str) -> None:
    """Write a file of results."""
    try:
        path.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be written: {error.strerror}.",
            "Make room, then give the same command again: no unit is tested twice.",
        ) from error
