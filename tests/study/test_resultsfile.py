from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import BusyError, RecordsError, RefusedInputError
from station.study.jobs import jobs_of
from station.study.outcome import End, Outcome, line_of, outcome_of
from station.study.resultsfile import NAME, Header, results_file
from tests.study.example import HEADER, example_plan, outcome

JOBS = list(jobs_of(example_plan()))


def some_outcomes(count: int) -> list[Outcome]:
    return [outcome(job, End.FAIL) for job in JOBS[:count]]


def write(folder: Path, outcomes: list[Outcome], header: Header = HEADER) -> None:
    with results_file(folder, header) as results:
        for one in outcomes:
            results.add(one)


def read(folder: Path, header: Header = HEADER) -> list[Outcome]:
    with results_file(folder, header) as results:
        return list(results.known.values())


@pytest.mark.parametrize("end", list(End))
def test_a_line_keeps_all_of_an_outcome(end: End) -> None:
    for job in (JOBS[0], JOBS[-1]):
        kept = replace(outcome(job, end), bang_db_spl=None if end is End.PASS else 81.25)
        assert outcome_of(line_of(kept)) == kept


def test_what_was_added_is_there_again(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    write(folder, some_outcomes(3))
    assert read(folder) == some_outcomes(3)
    write(folder, some_outcomes(5)[3:])
    assert read(folder) == some_outcomes(5)


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_last_line_that_was_cut_off_is_dropped(tmp_path: Path, cut: int) -> None:
    write(tmp_path, some_outcomes(3))
    path = tmp_path / NAME
    path.write_bytes(path.read_bytes()[:-cut])
    assert read(tmp_path) == some_outcomes(2)
    write(tmp_path, some_outcomes(3)[2:])
    assert read(tmp_path) == some_outcomes(3)


def test_a_line_cut_within_a_letter_is_dropped_too(tmp_path: Path) -> None:
    write(tmp_path, some_outcomes(1))
    path = tmp_path / NAME
    path.write_bytes(path.read_bytes() + '{"told": "Ω'.encode()[:-1])
    assert read(tmp_path) == some_outcomes(1)


def test_a_first_line_that_was_cut_off_begins_anew(tmp_path: Path) -> None:
    (tmp_path / NAME).write_text('{"format": 1, "lim')
    assert read(tmp_path) == []
    write(tmp_path, some_outcomes(1))
    assert read(tmp_path) == some_outcomes(1)


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (replace(HEADER, limits_sha256="cd" * 32), "another text of the limit file"),
        (replace(HEADER, seed=2), "another seed: 1, now 2"),
        (replace(HEADER, versions={"station": "1"}), "other versions"),
        (replace(HEADER, model="Fell 60"), "another model: Tarn 2, now Fell 60"),
        (replace(HEADER, revision="B"), "another revision"),
    ],
)
def test_results_of_another_study_are_never_added_to(
    tmp_path: Path, header: Header, words: str
) -> None:
    write(tmp_path, some_outcomes(2))
    before = (tmp_path / NAME).read_bytes()
    with pytest.raises(RefusedInputError, match=words) as refusal:
        read(tmp_path, header)
    assert "--out" in refusal.value.remedy
    assert (tmp_path / NAME).read_bytes() == before


@pytest.mark.parametrize("line", [b"no json", b'{"key": 1}', b"[]", b"\xff"])
def test_a_line_that_is_no_result_is_named(tmp_path: Path, line: bytes) -> None:
    write(tmp_path, some_outcomes(1))
    path = tmp_path / NAME
    path.write_bytes(path.read_bytes() + line + b"\n" + path.read_bytes().split(b"\n")[1] + b"\n")
    with pytest.raises(RefusedInputError, match=f"{NAME}:3"):
        read(tmp_path)


@pytest.mark.parametrize("first", [b"no json\n", b"{}\n", b"[1]\n"])
def test_a_file_that_does_not_say_what_it_is_is_refused(tmp_path: Path, first: bytes) -> None:
    (tmp_path / NAME).write_bytes(first)
    with pytest.raises(RefusedInputError, match="does not say what was studied"):
        read(tmp_path)


def test_two_studies_never_write_to_one_folder(tmp_path: Path) -> None:
    with results_file(tmp_path, HEADER), pytest.raises(BusyError, match="Another study"):
        read(tmp_path)
    assert read(tmp_path) == []


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordsError, match="cannot be used"):
        read(tmp_path / "file" / "folder")


def test_without_a_folder_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with results_file(None, HEADER) as results:
        results.add(some_outcomes(1)[0])
        assert list(results.known.values()) == some_outcomes(1)
    assert list(tmp_path.iterdir()) == []
