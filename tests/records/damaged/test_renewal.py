"""A damaged database is set aside, and everything that is whole goes on in a new one."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import RecordsError
from station.records.chains.upkeep import UpkeepKind
from station.records.damaged.damage import damage_of, hidden_damage_of
from station.records.damaged.renewal import move_files, set_aside
from station.records.keeping.verification import log_state
from station.records.kept.run import Run
from station.records.log.log import RunLog
from tests.records.example import SETUP, example_calibration, example_run, example_upkeep
from tests.records.same import same

RUNS = 40
PAGE = 4096


def stored_runs(log: RunLog, first: int = 0, count: int = RUNS) -> list[Run]:
    """Store runs, every tenth with a limit text of its own that fills several pages."""
    runs = []
    for n in range(first, first + count):
        setup = replace(SETUP, limit_text=f"# issue {n // 10}\n" * 1000)
        runs.append(example_run(run_id=f"r{n}", monotonic_s=float(n), setup=setup))
        log.store(runs[-1])
    return runs


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a closed log with runs, a calibration and an upkeep entry."""
    with RunLog.open(tmp_path) as log:
        stored_runs(log)
        log.store_calibration(example_calibration())
        log.store_upkeep(example_upkeep())
    return tmp_path


def all_runs(folder: Path) -> tuple[Run, ...]:
    """Return every run of the one unit."""
    with RunLog.open(folder) as log:
        return log.runs_of("T2A00123")


def overwrite(folder: Path, change: Callable[[bytearray], None]) -> None:
    """Change the bytes of the database."""
    contents = bytearray((folder / "station.db").read_bytes())
    change(contents)
    (folder / "station.db").write_bytes(contents)


def zero_head(contents: bytearray) -> None:
    contents[:PAGE] = bytes(PAGE)


def cut_to_nothing(contents: bytearray) -> None:
    contents.clear()


def flip_magic(contents: bytearray) -> None:
    contents[3] ^= 0xFF


@pytest.mark.parametrize("change", [zero_head, flip_magic])
def test_without_its_first_page_every_run_is_read(folder: Path, change: object) -> None:
    before = all_runs(folder)
    overwrite(folder, change)  # type: ignore[arg-type]
    with RunLog.open(folder) as log:
        assert "Nothing is lost" in log.mended[0]
        assert same(log.runs_of("T2A00123"), before)
        assert log.calibrations() != ()
        log.store(example_run(run_id="next"))
        assert log.run_count() == RUNS + 1
    state = log_state(folder)
    assert state.whole
    assert state.lost == ()


def test_the_log_says_where_it_comes_from_and_the_old_file_is_kept(folder: Path) -> None:
    old = (folder / "station.db").read_bytes()
    overwrite(folder, cut_to_nothing)
    with RunLog.open(folder) as log:
        *_, entry = log.upkeep()
        assert entry.kind is UpkeepKind.SET_ASIDE
        assert entry.name == "set-aside/0001"
        assert "runs 1 to 40" in entry.reason
    assert (folder / "set-aside" / "0001" / "station.db").read_bytes() == b""
    assert len(old) > 0


def test_a_gap_is_known_and_the_chain_holds_around_it(folder: Path) -> None:
    before = all_runs(folder)
    with RunLog.open(folder) as log:
        assert log.columns("Tarn 2")[1].count == RUNS
    (place,) = places_of(folder, b"r17T2A00123")[:1]

    def spoil(contents: bytearray) -> None:
        contents[place] ^= 0x01  # in the middle of one run's own row

    overwrite(folder, spoil)
    with pytest.raises(RecordsError, match=r"Number 18 of runs is not what was written.*--mend"):
        all_runs(folder)  # it is found by reading it
    with RunLog.open(folder) as log:
        log.set_aside("Number 18 of runs is not what was written.")
    after = all_runs(folder)
    assert {run.run_id for run in before} - {run.run_id for run in after} == {"r17"}
    assert log_state(folder).whole
    with RunLog.open(folder) as log:
        assert log.run_count() == RUNS - 1
        assert log.columns("Tarn 2")[1].count == RUNS - 1  # the copy by column was made anew
        log.store(example_run(run_id="next"))
    assert log_state(folder).whole


def places_of(folder: Path, words: bytes) -> list[int]:
    """Return where words stand in the database file."""
    contents = (folder / "station.db").read_bytes()
    return [n for n in range(len(contents)) if contents.startswith(words, n)]


def test_a_deleted_database_is_missed(folder: Path) -> None:
    (folder / "station.db").unlink()
    with RunLog.open(folder) as log:
        assert "is gone" in log.mended[0]
        assert log.runs_of("T2A00123") == ()


@pytest.mark.parametrize("moved", [0, 1, 2])
def test_a_kill_while_it_is_set_aside_is_made_good(folder: Path, moved: int) -> None:
    before = all_runs(folder)
    overwrite(folder, flip_magic)
    if moved == 0:  # the folder is made, nothing is moved
        (folder / "set-aside" / "0001").mkdir(parents=True)
    else:
        aside = set_aside(folder, "It was damaged.")
        if moved == 1:  # the tips are not moved yet
            (aside / "station.tips").rename(folder / "station.tips")
        else:
            (folder / ".station.db.partial").write_bytes(b"half a database")
            move_files(folder, aside)
    assert same(all_runs(folder), before)
    assert log_state(folder).whole


def test_the_unit_under_test_is_stored_though_the_database_breaks_under_it(folder: Path) -> None:
    with RunLog.open(folder) as log:
        before = log.runs_of("T2A00123")
        log._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        log._connection.execute("PRAGMA cache_size = 0")
        overwrite_in_place(folder)
        newest = example_run(run_id="under test")
        log.store(newest)
        assert log.mended
        after = log.runs_of("T2A00123")
        assert same(after[-1], newest)
        assert {run.run_id for run in after} <= {run.run_id for run in (*before, newest)}
    assert log_state(folder).whole


def overwrite_in_place(folder: Path) -> None:
    """Destroy the root pages of every index, under a connection that is open."""
    with closing(sqlite3.connect(folder / "station.db")) as other:
        roots = [
            r for (r,) in other.execute("SELECT rootpage FROM sqlite_schema WHERE type = 'index'")
        ]
    with (folder / "station.db").open("r+b") as file:
        for root in roots:
            file.seek((root - 1) * PAGE)
            file.write(b"\xa5" * PAGE)


def test_a_thorough_start_finds_what_the_structure_shows(folder: Path) -> None:
    before = all_runs(folder)
    with closing(sqlite3.connect(folder / "station.db")) as other:
        (root,) = other.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'runs_by_time'"
        ).fetchone()

    def spoil(contents: bytearray) -> None:
        contents[(root - 1) * PAGE : root * PAGE] = bytes(PAGE)

    overwrite(folder, spoil)
    with RunLog.open(folder, thorough=True) as log:
        assert "Nothing is lost" in log.mended[0]
        assert same(log.runs_of("T2A00123"), before)


def test_a_second_damage_keeps_what_is_known_of_the_first(folder: Path) -> None:
    (place,) = places_of(folder, b"r17T2A00123")[:1]

    def spoil(contents: bytearray) -> None:
        contents[place] ^= 0x01

    overwrite(folder, spoil)
    with RunLog.open(folder, thorough=True) as log:
        assert "Number 18 of runs: The run was changed" in log.mended[0]
    overwrite(folder, flip_magic)
    assert len(all_runs(folder)) == RUNS - 1
    state = log_state(folder)
    assert state.whole
    assert next(chain for chain in state.chains if chain.table == "losses").count == 1


def test_a_program_that_computes_other_hashes_sets_nothing_aside(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.records.chains.chain.run_hash", lambda _: "another")
    with pytest.raises(RecordsError, match="None of the newest 40 entries of runs proves itself"):
        RunLog.open(folder, thorough=True)
    assert not (folder / "set-aside").exists()


def test_a_whole_row_is_found_behind_a_damaged_image_of_it(tmp_path: Path) -> None:
    live = tmp_path / "live"
    with RunLog.open(live) as log:
        stored_runs(log, count=5)
        log._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        stored_runs(log, first=5, count=5)  # writes the pages of the first ones again, to the WAL
        shutil.copytree(live, tmp_path / "logs")
    folder = tmp_path / "logs"

    def spoil(contents: bytearray) -> None:
        for place in places_of(folder, b"Swap."):  # in the first cause of every run
            contents[place] ^= 0x20

    overwrite(folder, spoil)
    set_aside(folder, "It was damaged.")  # before SQLite writes the newer images over the older
    with RunLog.open(folder) as log:
        assert "Nothing is lost" in log.mended[0]
        assert log.run_count() == 10
    assert log_state(folder).whole


def test_looking_at_a_damaged_log_writes_nothing_over_it(tmp_path: Path) -> None:
    """The newest pages, written back, would cover what stands at a wrong place."""
    live = tmp_path / "live"
    with RunLog.open(live) as log:
        stored_runs(log, count=8)
        log._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        stored_runs(log, first=8, count=2)
        shutil.copytree(live, tmp_path / "logs")
    folder = tmp_path / "logs"
    before = {name: (folder / name).read_bytes() for name in ("station.db", "station.db-wal")}
    assert log_state(folder).whole
    assert damage_of(folder) is None
    assert {name: (folder / name).read_bytes() for name in before} == before


def test_a_look_that_is_given_no_time_says_nothing(folder: Path) -> None:
    assert hidden_damage_of(folder, budget_s=0.0) is None
