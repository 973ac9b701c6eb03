"""`station judge`: recordings judged again, whoever made them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit, exit_of_verdict, worst_exit
from station.cli.shared.jsonform import judgement_as_json
from station.cli.shared.suspectform import suspect_of
from station.cli.shared.tables import cause_columns, plain_table
from station.cycle.stored.suspicion import Suspicion, parts_of
from station.errors import RecordingFileError, StationError
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.verdict import Verdict
from station.records.recordings.recording_file import read_recording

ENDINGS = (".flac", ".wav")
WIDTHS = (24, None, None, 30, None, 38)
HEADERS = ("recording", "serial", "verdict", "cause", "margin", "next step")


def judge_paths(paths: tuple[Path, ...], limits_path: Path, *, as_json: bool) -> int:
    """Judge every recording; one that cannot be read does not stop the others."""
    limits, _ = limit_file(limits_path)
    plan = plan_of(limits)
    codes, rows = [], []
    suspicion = Suspicion()
    for path in recordings_among(paths):
        try:
            recording, facts = read_recording(path)
        except StationError as error:
            click.echo(f"{error.happened} {error.remedy}", err=True)
            codes.append(Exit.REFUSED)
            continue
        found = judged_recording(recording, plan, limits)
        judgement = found.judgement
        codes.append(exit_of_verdict(judgement.verdict))
        serial = facts.serial or path.stem
        if as_json:
            head = {
                "serial": serial,
                "model": limits.model.name,
                "revision": limits.model.revision,
                "recording": str(path),
                "suspect": suspect_of(
                    suspicion.of(parts_of(limits), found.measured.readings, judgement)
                    if judgement.verdict is Verdict.FAIL
                    else None
                ),
            }
            click.echo(judgement_as_json(head, found.measured.readings, judgement))
        else:
            verdict = judgement.verdict.value.upper()
            rows.append(
                (path.name, serial, verdict, *cause_columns(judgement), judgement.next_step)
            )
    if rows:
        click.echo(plain_table(HEADERS, rows, WIDTHS))
    return worst_exit(codes)


def recordings_among(paths: tuple[Path, ...]) -> Iterator[Path]:
    """Yield files as they are named, and every recording of the folders."""
    for path in paths:
        if not path.is_dir():
            yield path
            continue
        found = sorted(file for file in path.iterdir() if file.suffix.lower() in ENDINGS)
        if not found:
            raise RecordingFileError(
                f"There is no FLAC or WAV file in {path}.", "Name a folder with recordings."
            )
        yield from found
