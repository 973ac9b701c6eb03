from __future__ import annotations

from pathlib import Path

from tests.studies.longshift import shift


def test_a_short_shift_loses_nothing_and_keeps_its_handles(tmp_path: Path) -> None:
    end = shift(14, tmp_path / "logs")
    assert sum(end.shown.values()) + sum(end.refused.values()) == end.scans
    assert end.stored_runs == end.shown_runs >= sum(end.shown.values())
    assert (end.lost, end.chain_fault, end.missing_recordings) == ((), None, 0)
    assert end.end.handles == end.warm.handles
