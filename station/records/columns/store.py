"""A copy of a model's readings beside the log, laid out by column, to be read at once.

It is derived from the log and never the source of truth: it may be deleted at any time, and what
does not fit the log is made anew. Half a million curves take seconds to fetch from the database
row by row, and no time at all from a file that is mapped into memory.

In `derived/<model's hash>/<generation>/` lie one file per column, rows in the order of the runs:
`nN.f8` and `nN.u1` for number N (value and uncertainty; bit 0 it is there, bit 1 it says why it is
missing), `cN.f4` and `cN.u1` for curve N, and `seq.i8`. `index.json` says how many rows count, so
that whatever lies beyond them, from a writer that was cut off, does not.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from station.records.chains.query import blob_of_grid
from station.records.columns.batch import THERE, Batch, CurveKey, batches
from station.records.columns.columns import Columns, CurveColumn, NumberColumn, RowNumbers
from station.records.rows.runs import grid_of

FORMAT = 2
FOLDER_NAME = "derived"
FILL_ROWS = 4096
NAN_BYTES = {"f8": np.float64(np.nan).tobytes(), "f4": np.float32(np.nan).tobytes(), "u1": b"\0"}


@dataclass(slots=True)
class Index:
    """What the column files hold."""

    model: str
    count: int = 0
    last_seq: int = 0
    last_hash: str = ""
    generation: int = 1
    numbers: list[tuple[str, str]] = field(default_factory=list)  # name, unit
    curves: list[CurveKey] = field(default_factory=list)


class ColumnStore:
    """The column files of one model; used under its lock by one process at a time."""

    def __init__(self, folder: Path, index: Index) -> None:
        self._top = folder
        self.index = index

    @property
    def folder(self) -> Path:
        """Where the present generation lies."""
        return self._top / str(self.index.generation)

    def update(self, connection: sqlite3.Connection) -> None:
        """Add the runs that came since; begin anew if the log is not the one that was copied."""
        if not self._fits(connection):
            self._begin_anew()
        self.folder.mkdir(parents=True, exist_ok=True)
        added = False
        for batch in batches(connection, self.index.model, self.index.last_seq):
            self._append(batch)
            added = True
        if added:
            self._make_durable()
            self._write_index()

    def columns(self, connection: sqlite3.Connection) -> tuple[RowNumbers, Columns]:
        """Return the runs' numbers in the log, rising, and their readings."""
        count = self.index.count
        numbers: dict[str, NumberColumn] = {}
        for place, (name, unit) in enumerate(self.index.numbers):
            state = self._mapped(f"n{place}.u1", "u1", count)
            values = self._mapped(f"n{place}.f8", "<f8", 2 * count).reshape(count, 2)
            numbers[name] = NumberColumn(
                unit,
                values[:, 0],
                values[:, 1],
                (state & THERE) > 0,
                (state & ~np.uint8(THERE)) > 0,
            )
        curves: dict[str, tuple[CurveColumn, ...]] = {}
        for place, key in enumerate(self.index.curves):
            grid_hz = grid_of(blob_of_grid(connection, key.grid_sha256))
            table = self._mapped(f"c{place}.f4", "<f4", count * key.points)
            column = CurveColumn(
                key.unit,
                grid_hz,
                table.reshape(count, key.points),
                self._mapped(f"c{place}.u1", "u1", count) > 0,
            )
            curves[key.name] = (*curves.get(key.name, ()), column)
        return self._mapped("seq.i8", "<i8", count), Columns(count, numbers, curves)

    def _mapped(self, name: str, kind: str, size: int) -> np.ndarray[Any, np.dtype[Any]]:
        if size == 0:
            return np.empty(0, dtype=kind)
        return np.asarray(np.memmap(self.folder / name, dtype=kind, mode="r", shape=(size,)))

    def _fits(self, connection: sqlite3.Connection) -> bool:
        if self.index.count == 0:
            return True
        row = connection.execute(
            "SELECT hash FROM runs WHERE seq = ? AND model = ?",
            (self.index.last_seq, self.index.model),
        ).fetchone()
        return row is not None and row[0] == self.index.last_hash and self.folder.is_dir()

    def _begin_anew(self) -> None:
        old = self.folder
        self.index = Index(self.index.model, generation=self.index.generation + 1)
        shutil.rmtree(self.folder, ignore_errors=True)
        self._write_index()
        shutil.rmtree(old, ignore_errors=True)  # a reader that mapped it keeps what it has

    def _append(self, batch: Batch) -> None:
        index = self.index
        self._write("seq", "i8", 1, batch.seq.astype("<i8"))
        for name, unit in batch.units.items():
            if name not in dict(index.numbers):
                index.numbers.append((name, unit))
        for place, (name, _) in enumerate(index.numbers):
            values, state = batch.number(name)
            self._write(f"n{place}", "f8", 2, values.T.astype("<f8"))
            self._write(f"n{place}", "u1", 1, state)
        index.curves += [key for key in batch.curves if key not in index.curves]
        for place, key in enumerate(index.curves):
            table, there = batch.curve(key)
            self._write(f"c{place}", "f4", key.points, table)
            self._write(f"c{place}", "u1", 1, there)
        index.count += batch.seq.size
        index.last_seq, index.last_hash = int(batch.seq[-1]), batch.last_hash

    def _write(self, name: str, kind: str, width: int, values: np.ndarray[Any, Any]) -> None:
        """Add rows to a column, after as many without a value as a new column has missed."""
        path = self.folder / f"{name}.{kind}"
        row_bytes = int(kind[1]) * width
        with path.open("ab") as file:
            file.truncate(min(file.tell(), self.index.count * row_bytes))
            missed = self.index.count - file.tell() // row_bytes
            while missed > 0:
                rows = min(missed, FILL_ROWS)
                file.write(NAN_BYTES[kind] * (rows * width))
                missed -= rows
            file.write(np.ascontiguousarray(values).tobytes())

    def _make_durable(self) -> None:
        """Bring all columns to the disk, before an index says that they count."""
        for path in self.folder.iterdir():
            with path.open("rb") as file:
                os.fsync(file.fileno())

    def _write_index(self) -> None:
        contents = {"format": FORMAT, **asdict(self.index)}
        partial = self._top / "index.partial"
        with partial.open("w", encoding="utf-8") as file:
            json.dump(contents, file, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(self._top / "index.json")


@contextmanager
def column_store(logs: Path, model: str) -> Iterator[ColumnStore]:
    """Hold a model's column files; another process waits meanwhile."""
    folder = logs / FOLDER_NAME / hashlib.sha256(model.encode()).hexdigest()[:16]
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield ColumnStore(folder, index_in(folder, model))


def index_in(folder: Path, model: str) -> Index:
    """Return what an index file says, or an empty one of a new generation if it makes no sense."""
    try:
        found = json.loads((folder / "index.json").read_text(encoding="utf-8"))
        if found.pop("format") != FORMAT or found["model"] != model:
            raise ValueError
        found["numbers"] = [(str(name), str(unit)) for name, unit in found["numbers"]]
        found["curves"] = [CurveKey(*key) for key in found["curves"]]
        return Index(**found)
    except (OSError, ValueError, KeyError, TypeError):
        last = max((int(path.name) for path in folder.iterdir() if path.name.isdigit()), default=0)
        return Index(model, generation=last + 1)
