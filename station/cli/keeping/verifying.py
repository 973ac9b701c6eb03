"""`station verify-log`: is everything in the log what was written, and is a printed tip in it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.openlog import folder_with_log
from station.errors import DamagedLogError, RefusedInputError
from station.records.keeping.verification import (
    FilesState,
    LogState,
    entry_with_hash,
    files_states,
    log_state,
)
from station.records.log.log import RunLog

SHORT_DIGITS = 16  # of a hash, for people to compare
FEWEST_DIGITS = 12  # of a hash somebody typed: fewer may fit more than one entry
SHOWN_NAMES = 5
FORMAT = 1


def mend_log(logs: Path, *, simulate: bool) -> int:
    """Set aside a database that is not as it was written, and go on with all that proves itself."""
    folder = folder_with_log(logs, simulate=simulate)
    try:
        state = log_state(folder)
        happened = "" if state.whole else next(faults_of(state))
    except DamagedLogError as error:
        happened = error.happened
    with RunLog.open(folder) as log:  # mends by itself what it meets
        if happened and not log.mended:
            log.set_aside(happened)
        mended = log.mended
    for sentence in mended or ("Everything is as it was written; nothing is to be mended.",):
        click.echo(sentence)
    return Exit.PASS


def faults_of(state: LogState) -> Iterator[str]:
    """Yield what is not as it was written, as sentences."""
    if state.structure:
        yield f"The database says of itself: {state.structure}."
    yield from state.lost
    yield from (f"{chain.fault}" for chain in state.chains if chain.fault)


def prove_log(
    logs: Path, tips: tuple[str, ...], *, simulate: bool, recordings: bool, as_json: bool
) -> int:
    """Verify the log, its recordings, and that tips from paper are in it; 4 if anything is not."""
    folder = folder_with_log(logs, simulate=simulate)
    places = {tip: entry_with_hash(folder, checked_digits(tip)) for tip in tips}
    state = log_state(folder)
    files = files_states(folder) if recordings else ()
    if as_json:
        click.echo(json.dumps(json_of(state, files, places)))
    else:
        for line in lines_of(state, files, places):
            click.echo(line)
    whole = state.whole and all(one.whole for one in files) and None not in places.values()
    return Exit.PASS if whole else Exit.FAULT


def checked_digits(tip: str) -> str:
    """Return the digits of a hash somebody typed, without the spaces."""
    digits = "".join(tip.split()).lower()
    if len(digits) < FEWEST_DIGITS or set(digits) - set("0123456789abcdef"):
        raise RefusedInputError(
            f"{tip!r} is no tip.", f"Give {FEWEST_DIGITS} or more of its digits, 0 to 9 and a to f."
        )
    return digits


def lines_of(
    state: LogState, files: tuple[FilesState, ...], places: dict[str, tuple[str, int] | None]
) -> Iterator[str]:
    """Yield what was found, for people."""
    yield plain_table(("chain", "entries", "tip", "found"), list(chain_rows(state)))
    yield ""
    if state.structure:
        yield f"BROKEN: the database says of itself: {state.structure}."
    for happened in state.lost:
        yield f"LOST: {happened}"
    if state.signatures.count:
        held = state.signatures.count - len(state.signatures.faults)
        yield f"Signatures: {held} of {state.signatures.count} releases are what their keys signed."
    for happened in state.signatures.faults:
        yield f"BROKEN: {happened}"
    for entry in state.set_aside:
        yield f"Set aside on {entry.done_utc:%Y-%m-%d}: {entry.name}. {entry.reason}"
    if not state.tips_noted:
        yield "No tips are noted beside the database; the next stored run notes them."
    for one in files:
        yield from file_lines(one)
    for tip, place in places.items():
        if place is None:
            yield f"NOT FOUND: no entry of this log has the hash {tip}."
        else:
            yield f"Tip {tip}: number {place[1]} of {place[0]}, which this log has."
    yield summary(state, files, places)


def chain_rows(state: LogState) -> Iterator[tuple[str, str, str, str]]:
    """Yield a row for every chain."""
    for chain in state.chains:
        found = "unbroken" if chain.fault is None else f"BROKEN at {chain.fault}"
        yield chain.table, str(chain.count), chain.tip[:SHORT_DIGITS] if chain.count else "", found


def file_lines(state: FilesState) -> Iterator[str]:
    """Yield how the recordings of one table stand."""
    yield (
        f"Recordings of {state.table}: {state.unchanged} unchanged, {state.let_go} let go by rule, "
        f"{len(state.changed)} changed, {len(state.missing)} missing."
    )
    for word, names in (("CHANGED", state.changed), ("MISSING", state.missing)):
        if names:
            yield f"{word}: {some_of(names)}"
    if state.unclaimed:
        yield (
            f"Named by no entry, as when the power failed before the result was stored: "
            f"{some_of(state.unclaimed)}"
        )


def some_of(names: tuple[str, ...]) -> str:
    """Return the first names, and how many more there are."""
    more = len(names) - SHOWN_NAMES
    return ", ".join(names[:SHOWN_NAMES]) + (f" and {more} more" if more > 0 else "")


def summary(
    state: LogState, files: tuple[FilesState, ...], places: dict[str, tuple[str, int] | None]
) -> str:
    """Return the one sentence that sums up."""
    if not (state.whole and all(one.whole for one in files)):
        return (
            "Not everything is as it was written. Keep the folder, call the quality engineer: "
            "'station verify-log --mend' goes on without what is broken, and sets it aside."
        )
    if None in places.values():
        return "What is in this log is as it was written, but not all tips are of it."
    return "Everything is as it was written."


def json_of(
    state: LogState, files: tuple[FilesState, ...], places: dict[str, tuple[str, int] | None]
) -> dict[str, object]:
    """Return what was found as one JSON object."""
    return {
        "format": FORMAT,
        "structure": state.structure,
        "lost": state.lost,
        "tips_noted": state.tips_noted,
        "signatures": asdict(state.signatures),
        "losses": [asdict(loss) for loss in state.losses],
        "set_aside": [
            {"utc": entry.done_utc.isoformat(), "folder": entry.name, "reason": entry.reason}
            for entry in state.set_aside
        ],
        "chains": [asdict(chain) for chain in state.chains],
        "recordings": [asdict(one) for one in files],
        "tips": {
            tip: None if place is None else {"chain": place[0], "number": place[1]}
            for tip, place in places.items()
        },
    }
