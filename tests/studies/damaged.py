"""Damage a log in random ways: `python -m tests.studies.damaged [WAYS]`.

The log is taken as a kill leaves it, with its newest runs in the write-ahead log only. A damage
must be noticed at the start or by the verification, or have changed nothing that can be read; the
line must go on; and every run must be read again whose pages, in the database or its log, hold
what they held.
"""

from __future__ import annotations

import random
import shutil
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from station.errors import StationError
from station.records.damaged.pagescan import PAGE_BYTES, frames_in, pages_of, rows_on
from station.records.damaged.renewal import WAL_NAME
from station.records.keeping.verification import log_state
from station.records.kept.run import Run
from station.records.log.log import RunLog
from tests.records.example import SETUP, example_calibration, example_run
from tests.records.same import same

SEED = 20261125
WAYS = 200
RUNS = 150
IN_LOG_ONLY = 60  # of them
SERIAL = "T2A00123"
Damage = Callable[[random.Random, Path], None]


def make_log(folder: Path) -> tuple[Run, ...]:
    """Write a log and leave it as a kill does, the newest runs in the write-ahead log."""
    live = folder.with_name("live")
    runs = []
    with RunLog.open(live) as log:
        log.store_calibration(example_calibration())
        for n in range(RUNS):
            if n == RUNS - IN_LOG_ONLY:
                log._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            setup = replace(SETUP, limit_text=f"# issue {n // 50}\n" * 600)
            runs.append(example_run(run_id=f"r{n}", monotonic_s=float(n), setup=setup))
            log.store(runs[-1])
        shutil.copytree(live, folder)
    return tuple(runs)


def flip_bytes(random_: random.Random, path: Path) -> None:
    """Change one to eight bytes."""
    contents = bytearray(path.read_bytes())
    for _ in range(random_.randint(1, 8)):
        contents[random_.randrange(len(contents))] ^= random_.randint(1, 255)
    path.write_bytes(contents)


def destroy_pages(random_: random.Random, path: Path) -> None:
    """Overwrite one to three pages with zeros or noise."""
    contents = bytearray(path.read_bytes())
    for _ in range(random_.randint(1, 3)):
        start = random_.randrange(len(contents) // PAGE_BYTES) * PAGE_BYTES
        noise = random_.randbytes(PAGE_BYTES) if random_.random() < 0.5 else bytes(PAGE_BYTES)
        contents[start : start + PAGE_BYTES] = noise
    path.write_bytes(contents)


def cut_short(random_: random.Random, path: Path) -> None:
    """Cut the file off anywhere."""
    with path.open("r+b") as file:
        file.truncate(random_.randrange(path.stat().st_size))


def delete(_random: random.Random, path: Path) -> None:
    """Delete the file."""
    path.unlink()


def exchange_pages(random_: random.Random, path: Path) -> None:
    """Exchange two pages."""
    contents = bytearray(path.read_bytes())
    one, other = (n * PAGE_BYTES for n in random_.sample(range(len(contents) // PAGE_BYTES), 2))
    first = contents[one : one + PAGE_BYTES]
    contents[one : one + PAGE_BYTES] = contents[other : other + PAGE_BYTES]
    contents[other : other + PAGE_BYTES] = first
    path.write_bytes(contents)


KINDS: tuple[tuple[str, Damage, str], ...] = (
    ("bytes of the database", flip_bytes, "station.db"),
    ("bytes of its log", flip_bytes, WAL_NAME),
    ("pages of the database", destroy_pages, "station.db"),
    ("pages of its log", destroy_pages, WAL_NAME),
    ("database cut short", cut_short, "station.db"),
    ("log cut short", cut_short, WAL_NAME),
    ("pages exchanged", exchange_pages, "station.db"),
    ("database deleted", delete, "station.db"),
    ("log deleted", delete, WAL_NAME),
)


def run_images(folder: Path) -> dict[int, dict[tuple[str, int], set[bytes]]]:
    """Return for every run the page images that hold each of its rows, by their contents."""
    held: dict[int, dict[tuple[str, int], set[bytes]]] = defaultdict(lambda: defaultdict(set))
    with pages_of(folder / "station.db", [folder / WAL_NAME]) as pages:
        for number, image in pages.images():
            for rowid, values in rows_on(image, 100 if number == 1 else 0, pages):
                place = place_of(rowid, values)
                if place is not None:
                    held[place[0]][place[1]].add(image)
    return held


def place_of(rowid: int | None, values: list[object]) -> tuple[int, tuple[str, int]] | None:
    """Return run and place in it of a row of this study's log, None for other rows."""
    if rowid is not None and len(values) > 20 and str(values[1]).startswith("r"):
        return rowid, ("runs", 0)
    if rowid is not None and len(values) == 6 and isinstance(values[5], bytes):
        return int(str(values[0])), ("curves", int(str(values[1])))
    if rowid is None and len(values) in (5, 10) and isinstance(values[2], str):
        return int(str(values[0])), (
            "missing" if len(values) == 5 else "causes",
            int(str(values[1])),
        )
    return None


def images_in(folder: Path) -> set[bytes]:
    """Return every page image that is left, wherever it is."""
    database, log = folder / "station.db", folder / WAL_NAME
    contents = database.read_bytes() if database.exists() else b""
    frames = frames_in(log.read_bytes()) if log.exists() else iter(())
    whole = {contents[n : n + PAGE_BYTES] for n in range(0, len(contents), PAGE_BYTES)}
    return whole | {image for _, image in frames}


@dataclass(frozen=True, slots=True)
class Met:
    """What one damage came to."""

    noticed: str  # at the start, by the verification, or not at all because nothing was changed
    goes_on: bool
    lost: int
    lost_undamaged: int
    wrong: int  # read, but not what was stored


def met(folder: Path, runs: tuple[Run, ...], undamaged: set[int]) -> Met:
    """Start the station on a damaged log, and return how it went."""
    noticed = ""
    try:
        with RunLog.open(folder, thorough=True) as log:
            noticed = "at the start" if log.mended else ""
        if not noticed:
            state = log_state(folder)
            noticed = "" if state.whole else "by the verification"
    except StationError:
        noticed = "by the verification"
    if noticed == "by the verification":
        with RunLog.open(folder) as log:
            log.set_aside("The verification found it changed.")
    with RunLog.open(folder, thorough=True) as log:
        found = {run.run_id: run for run in log.runs_of(SERIAL)}
        newest = example_run(run_id="next")
        log.store(newest)
        goes_on = same(log.runs_of(SERIAL)[-1], newest)
    goes_on = goes_on and log_state(folder).whole
    before = {run.run_id: run for run in runs}
    lost = {int(run_id[1:]) + 1 for run_id in set(before) - set(found)}
    wrong = sum(not alike(run, before[run_id]) for run_id, run in found.items())
    if not noticed and (lost or wrong):
        noticed = "NOT"
    return Met(noticed or "nothing was changed", goes_on, len(lost), len(lost & undamaged), wrong)


def alike(run: Run, before: Run) -> bool:
    """Return whether a run is what was stored, but for texts and frequencies that are lost."""
    same_curves = all(
        name in before.readings.curves and same(curve, before.readings.curves[name])
        for name, curve in run.readings.curves.items()
    )
    return (
        same_curves
        and same(replace(run, setup=before.setup, readings=before.readings), before)
        and same(run.readings.numbers, before.readings.numbers)
    )


def damaged(folder: Path, ways: int, seed: int) -> Iterator[tuple[str, Met]]:
    """Yield what each damage came to."""
    random_ = random.Random(seed)
    whole = folder / "whole"
    runs = make_log(whole)
    held = run_images(whole)
    for way in range(ways):
        name, damage, file = KINDS[way % len(KINDS)]
        copy = folder / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(whole, copy)
        damage(random_, copy / file)
        left = images_in(copy)
        undamaged = {
            seq for seq, rows in held.items() if all(images & left for images in rows.values())
        }
        yield name, met(copy, runs, undamaged)


def main() -> None:
    """Print what became of the log."""
    ways = int(sys.argv[1]) if len(sys.argv) > 1 else WAYS
    noticed: dict[str, Counter[str]] = defaultdict(Counter)
    totals: Counter[str] = Counter()
    with TemporaryDirectory() as folder:
        for name, found in damaged(Path(folder), ways, SEED):
            noticed[name][found.noticed] += 1
            totals["goes on"] += found.goes_on
            totals["lost"] += found.lost
            totals["lost though undamaged"] += found.lost_undamaged
            totals["read wrong"] += found.wrong
    for name, counts in noticed.items():
        print(f"{name:<24}" + ", ".join(f"{words} {n}" for words, n in counts.most_common()))
    print(f"{ways} ways, {RUNS} runs each: " + ", ".join(f"{w} {n}" for w, n in totals.items()))


if __name__ == "__main__":
    main()
