"""The canonical serialisation is what its documentation says."""

from __future__ import annotations

import hashlib

from station.records.chains.chain import run_hash
from station.records.chains.chainedrows import canonical
from station.records.rows.runs import RunRows


def test_a_row_is_serialised_as_documented() -> None:
    row = {"seq": 7, "serial": "Ω1", "margin": -2.0, "blob": b"\x00\xff", "at": None, "hash": "x"}
    # Written out by hand from the module's text; -2.0 is c0 00 … in IEEE 754 double.
    assert canonical("runs", row) == (
        b"T4:runs"
        b"T4:blobB2:\x00\xff"
        b"T6:marginR8:\xc0\x00\x00\x00\x00\x00\x00\x00"
        b"T3:seqI1:7"
        b"T6:serialT3:\xce\xa91"
    )


def test_a_run_is_hashed_row_by_row_children_after_it() -> None:
    rows = RunRows({"seq": 1}, ({"run": 1}, {"run": 2}), ({"run": 3},), ({"run": 4},))
    expected = (
        b"T4:runsT3:seqI1:1"
        b"T6:causesT3:runI1:1T6:causesT3:runI1:2"
        b"T6:curvesT3:runI1:3T7:missingT3:runI1:4"
    )
    assert run_hash(rows) == hashlib.sha256(expected).hexdigest()


def test_a_column_added_later_leaves_old_hashes_alone() -> None:
    old = RunRows({"seq": 1}, (), (), ())
    new = RunRows({"seq": 1, "humidity_ratio": None}, (), (), ())
    assert run_hash(old) == run_hash(new)


def test_values_cannot_move_between_neighbouring_columns() -> None:
    one = RunRows({"a": "xy", "b": "z"}, (), (), ())
    other = RunRows({"a": "x", "b": "yz"}, (), (), ())
    assert run_hash(one) != run_hash(other)
