"""Rows are read from pages as SQLite wrote them, and nothing else is."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

from station.records.damaged.pagescan import PAGE_BYTES, Pages, rows_in, varint

VALUES = [
    None,
    0,
    1,
    -1,
    127,
    -128,
    32767,
    8388607,
    -(2**31),
    2**47 - 1,
    2**62,
    0.5,
    "Ω",
    b"\x00\xff",
]
LONG = ["x" * 3000, b"\x01" * 5000, "y" * 20000]


def written(path: Path, rows: list[tuple[object, object]]) -> bytes:
    """Return a database with rows that SQLite wrote."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("CREATE TABLE things (number INTEGER PRIMARY KEY, one, other)")
        connection.execute("BEGIN")
        connection.executemany("INSERT INTO things (one, other) VALUES (?, ?)", rows)
        connection.execute("COMMIT")
    return path.read_bytes()


def read(contents: bytes) -> dict[int, tuple[object, object]]:
    """Return the rows of the one table."""
    return {
        number: (values[1], values[2])
        for number, values in rows_in(Pages(contents, []))
        if number is not None and len(values) == 3
    }


def test_every_kind_of_value_is_read(tmp_path: Path) -> None:
    rows = [(one, other) for one in [*VALUES, *LONG] for other in [*VALUES, *LONG]]
    found = read(written(tmp_path / "a.db", rows))
    assert [found[n] for n in range(1, len(rows) + 1)] == rows


def test_rows_outlive_the_inner_pages_that_led_to_them(tmp_path: Path) -> None:
    rows: list[tuple[object, object]] = [(f"row {n}", n) for n in range(3000)]
    contents = bytearray(written(tmp_path / "a.db", rows))
    for start in range(0, len(contents), PAGE_BYTES):
        # 5 is the kind of an inner page of a table: https://sqlite.org/fileformat2.html, 1.6
        if contents[start + (100 if start == 0 else 0)] == 0x05:
            contents[start : start + PAGE_BYTES] = bytes(PAGE_BYTES)
    assert len(read(bytes(contents))) == 3000


def test_noise_yields_nothing_that_stops_the_reading(tmp_path: Path) -> None:
    random_ = random.Random(3)
    contents = bytearray(written(tmp_path / "a.db", [(f"row {n}", "z" * 5000) for n in range(50)]))
    for _ in range(300):
        damaged = bytearray(contents)
        for _ in range(40):
            damaged[random_.randrange(len(damaged))] = random_.randrange(256)
        assert len(read(bytes(damaged))) <= 60


def test_a_number_of_nine_bytes_is_read() -> None:
    # From the format's text: eight bytes of seven bits each, the ninth whole.
    assert varint(b"\xff" * 9, 0) == (2**64 - 1, 9)
    assert varint(b"\x81\x00", 0) == (128, 2)


def test_rows_are_found_on_a_page_that_stands_where_the_first_one_should(tmp_path: Path) -> None:
    rows: list[tuple[object, object]] = [(f"row {n}", n) for n in range(300)]
    contents = bytearray(written(tmp_path / "a.db", rows))
    first, last = slice(0, PAGE_BYTES), slice(len(contents) - PAGE_BYTES, len(contents))
    contents[first], contents[last] = contents[last], contents[first]
    assert len(read(bytes(contents))) == 300
