"""`station pair`: how alike two units are."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import log_folder
from station.cycle.stored.pairs import MatchedBand, MatchedPair, matched_pair
from station.errors import RefusedInputError
from station.judging.words.words import frequency_words
from station.records.files.places import DATABASE_NAME
from station.records.kept.run import Run
from station.records.log.log import RunLog

FORMAT = 1
HEADERS = ("band", "from", "to", "level", "shape at most", "at", "shape RMS")


def show_pair(
    first_serial: str, second_serial: str, logs: Path, *, simulate: bool, as_json: bool
) -> int:
    """Compare the newest passed runs of two units and tell level and shape apart."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    with RunLog.open(folder) as log:
        pair = matched_pair(log, first_serial, second_serial)
    click.echo(pair_as_json(pair) if as_json else pair_text(pair))
    return Exit.PASS


def pair_text(pair: MatchedPair) -> str:
    """Return a pair for people."""
    first, second = pair.runs
    rows = [
        (
            one.name,
            frequency_words(one.from_hz),
            frequency_words(one.to_hz),
            f"{one.match.level_db:+.2f} dB",
            f"{one.match.worst_db:+.2f} dB",
            frequency_words(one.match.worst_hz),
            f"{one.match.shape_rms_db:.2f} dB",
        )
        for one in pair.bands
    ]
    lines = [
        f"{first.model}: {run_words(second)} minus {run_words(first)}",
        *(
            f"{newest.serial} has not passed since: its newest run is "
            f"{newest.judgement.verdict.value.upper()}."
            for run, newest in zip(pair.runs, pair.newest, strict=True)
            if newest.run_id != run.run_id and newest.judgement.verdict != run.judgement.verdict
        ),
        "",
        plain_table(HEADERS, rows),
    ]
    return "\n".join(lines)


def run_words(run: Run) -> str:
    """Return a run as unit, revision and time."""
    return f"{run.serial} (revision {run.revision}, {run.started_utc:%Y-%m-%d %H:%M} UTC)"


def pair_as_json(pair: MatchedPair) -> str:
    """Return a pair as one line of JSON; its keys stand in DEVELOPERS.md."""
    first, second = pair.runs
    return json.dumps(
        {
            "format": FORMAT,
            "model": first.model,
            "first": run_as_object(first, pair.newest[0]),
            "second": run_as_object(second, pair.newest[1]),
            "bands": [band_as_object(one) for one in pair.bands],
        },
        ensure_ascii=False,
        allow_nan=False,
    )


def run_as_object(run: Run, newest: Run) -> dict[str, str]:
    """Return which run of a unit was compared."""
    return {
        "serial": run.serial,
        "revision": run.revision,
        "run": run.run_id,
        "utc": run.started_utc.isoformat(),
        "newest_verdict": newest.judgement.verdict.value,
    }


def band_as_object(one: MatchedBand) -> dict[str, object]:
    """Return the match in one band."""
    return {
        "name": one.name,
        "from_hz": one.from_hz,
        "to_hz": one.to_hz,
        "level_db": one.match.level_db,
        "shape_max_db": one.match.shape_max_db,
        "shape_rms_db": one.match.shape_rms_db,
        "worst_hz": one.match.worst_hz,
        "worst_db": one.match.worst_db,
    }
