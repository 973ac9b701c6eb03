"""A serial number says which revision a unit was built to."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from station.errors import TextFileError, UnknownSerialError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.files.shelf import LimitShelf, limit_shelf
from station.judging.tables.revisions import holds_for, place_in_production, place_of
from tests.judging.example import LIMITS

WEEKS = "T2-(?P<built>[0-9]{4})-[0-9]+"


def test_serial_numbers_are_in_the_order_people_read_them() -> None:
    ordered = ("T2A9", "T2A10", "T2A0099", "T2A100", "T2B1", "T10A1")
    assert all(place_of(before) < place_of(after) for before, after in pairwise(ordered))
    assert place_of("T2A0099") == place_of("T2A99")


def test_a_long_number_is_compared_without_being_computed() -> None:
    assert place_of("T" + "9" * 5000) < place_of("T1" + "0" * 5000)


def test_a_pattern_names_the_part_that_grows() -> None:
    # week 48 of 2026 and week 2 of 2027; the running number begins anew every week
    older, newer = (place_in_production(WEEKS, s) for s in ("T2-2648-0900", "T2-2702-0001"))
    assert older is not None
    assert newer is not None
    assert older < newer
    assert holds_for(WEEKS, "2701", "T2-2702-0001")
    assert not holds_for(WEEKS, "2701", "T2-2648-0900")
    assert not holds_for(WEEKS, "2701", "T3-2702-0001")  # another model's
    assert holds_for(WEEKS, None, "T2-2648-0900")


def shelf_with(folder: Path, **starts: str) -> LimitShelf:
    """Return a shelf with a file of each revision, each with its `holds_from` line or none."""
    for revision, start in starts.items():
        text = LIMITS.replace('revision = "A"', f'revision = "{revision}"\n{start}')
        (folder / f"{revision}.toml").write_text(text, encoding="utf-8")
    return limit_shelf(folder)


def test_each_unit_finds_the_newest_revision_that_had_begun(tmp_path: Path) -> None:
    shelf = shelf_with(tmp_path, A="", B='holds_from = "T2A01500"', C='holds_from = "T2A03000"')
    found = {
        serial: shelf.for_serial(serial).limits.model.revision
        for serial in ("T2A00000", "T2A01499", "T2A01500", "T2A02999", "T2A03000", "T2A99999")
    }
    assert list(found.values()) == ["A", "A", "B", "B", "C", "C"]


def test_a_unit_older_than_every_revision_there_is_is_not_tested(tmp_path: Path) -> None:
    shelf = shelf_with(tmp_path, B='holds_from = "T2A01500"')
    with pytest.raises(UnknownSerialError, match=r"begin after .*T2A00001.*B.toml from T2A01500"):
        shelf.for_serial("T2A00001")


def test_two_revisions_that_begin_together_are_refused(tmp_path: Path) -> None:
    shelf = shelf_with(tmp_path, A="", B="")
    with pytest.raises(UnknownSerialError, match=r"A.toml and B.toml both claim"):
        shelf.for_serial("T2A00001")


@pytest.mark.parametrize("start", ["T2B00001", "1500", "T2A1500"])
def test_a_start_that_is_no_serial_number_is_refused_with_its_line(start: str) -> None:
    text = LIMITS.replace('revision = "A"', f'revision = "A"\nholds_from = "{start}"')
    with pytest.raises(TextFileError, match=rf"x.toml:6: .*'{start}' is no serial number"):
        limit_file_from_text(text, "x.toml")
