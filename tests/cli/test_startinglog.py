"""What the line is told when it opens its log."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from station.cli.wiring.startinglog import log_for_line
from station.records.log.log import RunLog
from tests.cycle.line import LIMITS, SteadyClock
from tests.records.example import example_run


def test_a_sound_log_is_opened_without_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log_for_line(tmp_path, SteadyClock()).close()
    assert capsys.readouterr().err == ""


def test_what_was_swept_up_and_mended_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
    (tmp_path / "station.db").write_bytes(b"")
    (tmp_path / "unfinished").mkdir()
    (tmp_path / "unfinished" / ".r7.flac.partial").write_bytes(b"half")
    log_for_line(tmp_path, SteadyClock()).close()
    told = capsys.readouterr().err
    assert "It was set aside and a new log begun. Lost: " in told
    assert "Tell the quality engineer." in told
    assert "Swept up a file that was never finished: .r7.flac.partial." in told


def test_the_line_goes_on_after_the_database_was_destroyed(station: Any, tmp_path: Path) -> None:
    options = ("--simulate", "--limits-folder", LIMITS, "--logs", tmp_path)
    assert station("test", "T2A00701", *options).code == 0
    database = tmp_path / "simulated" / "station.db"
    database.write_bytes(b"\xa5" * database.stat().st_size)
    shown = station("test", "T2A00702", *options)
    assert shown.code == 0
    assert "It was set aside" in shown.err
    history = station("history", "T2A00702", "--simulate", "--logs", tmp_path)
    assert "PASS" in history.out
    looked = station("doctor", "--limits-folder", LIMITS, "--logs", tmp_path)
    assert "chain unbroken" in looked.out
