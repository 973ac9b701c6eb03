"""The readings of some hundred runs at a time, fetched from the log as columns."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.records.columns.columns import SingleArray
from station.records.rows.values import float_of

ROWS = 2000
THERE, MISSING = 1, 2
ROOM_PREFIX = "room."  # how far the room may have moved a failing curve: no reading of the unit

RUNS = """SELECT seq, hash, numbers FROM runs WHERE model = ? AND seq > ? ORDER BY seq LIMIT ?"""
CURVES = """SELECT curves.run, name, unit, grid_sha256, float32_values
FROM runs JOIN curves ON curves.run = runs.seq
WHERE runs.model = ? AND runs.seq BETWEEN ? AND ?"""
REASONS = """SELECT missing.run, name FROM runs JOIN missing ON missing.run = runs.seq
WHERE runs.model = ? AND runs.seq BETWEEN ? AND ?"""

Flags = NDArray[np.uint8]


class CurveKey(NamedTuple):
    """What tells one column of curves from another."""

    name: str
    unit: str
    grid_sha256: str
    points: int


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Some runs in the order of the log; rows count from 0."""

    seq: NDArray[np.int64]
    last_hash: str
    units: dict[str, str]
    values: dict[str, FloatArray]  # shape (2, n): values and their uncertainties
    states: dict[str, Flags]
    curves: dict[CurveKey, tuple[list[int], list[bytes]]]

    def number(self, name: str) -> tuple[FloatArray, Flags]:
        """Return values with uncertainties, and states, of a number runs may not have."""
        if name not in self.values:
            return np.full((2, self.seq.size), np.nan), np.zeros(self.seq.size, dtype=np.uint8)
        return self.values[name], self.states[name]

    def curve(self, key: CurveKey) -> tuple[SingleArray, Flags]:
        """Return a curve of all runs, NaN where one has none, and which have it."""
        rows, blobs = self.curves.get(key, ([], []))
        given = np.frombuffer(b"".join(blobs), "<f4").reshape(len(rows), key.points)
        if rows == list(range(self.seq.size)):
            return given, np.ones(self.seq.size, dtype=np.uint8)
        values = np.full((self.seq.size, key.points), np.nan, dtype=np.float32)
        there = np.zeros(self.seq.size, dtype=np.uint8)
        values[rows], there[rows] = given, 1
        return values, there


def batches(connection: sqlite3.Connection, model: str, after_seq: int) -> Iterator[Batch]:
    """Yield the runs of a model after one, some at a time."""
    while found := connection.execute(RUNS, (model, after_seq, ROWS)).fetchall():
        batch = batch_of(connection, model, found)
        yield batch
        after_seq = int(batch.seq[-1])


def batch_of(connection: sqlite3.Connection, model: str, runs: Sequence[sqlite3.Row]) -> Batch:
    """Return runs with their curves and what they say is missing."""
    seq = np.array([run[0] for run in runs], dtype=np.int64)
    span = (model, int(seq[0]), int(seq[-1]))
    row_of = {int(number): row for row, number in enumerate(seq)}
    batch = Batch(seq, str(runs[-1][1]), {}, {}, {}, {})
    for row, run in enumerate(runs):
        for name, stored in json.loads(run[2]).items():
            add_number(batch, name, stored[1])
            batch.values[name][:, row] = float_of(stored[0]), uncertainty_of(stored)
            batch.states[name][row] |= THERE
    for number, name in connection.execute(REASONS, span):
        add_number(batch, name, "")
        batch.states[name][row_of[number]] |= MISSING
    for number, name, unit, grid, blob in connection.execute(CURVES, span):
        if name.startswith(ROOM_PREFIX):
            continue
        rows, blobs = batch.curves.setdefault(CurveKey(name, unit, grid, len(blob) // 4), ([], []))
        rows.append(row_of[number])
        blobs.append(blob)
    return batch


def uncertainty_of(stored: Sequence[Any]) -> float:
    """Return the uncertainty that was stored with a number, NaN if none was."""
    return float_of(stored[2]) if len(stored) > 2 else math.nan


def add_number(batch: Batch, name: str, unit: str) -> None:
    """Make room for a number that none of the runs had before."""
    if name not in batch.values:
        batch.values[name] = np.full((2, batch.seq.size), np.nan)
        batch.states[name] = np.zeros(batch.seq.size, dtype=np.uint8)
    if unit or name not in batch.units:
        batch.units[name] = unit
