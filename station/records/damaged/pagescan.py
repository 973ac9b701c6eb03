"""Rows out of the pages of a damaged SQLite database, whatever still leads to them or not.

SQLite finds a row through its schema, the inner pages of a tree and the log of newest pages; one
damaged byte in any of these hides rows that are whole. So every page is looked at by itself, those
of the database first and those of its write-ahead log after them, and every cell that can be read
is given. Nothing here says that a row is right: who asks verifies it by its hash.

The file format is described at https://sqlite.org/fileformat2.html; numbers in brackets below are
its sections.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeAlias

PAGE_BYTES = 4096  # SQLite's own default, which the log has always been made with
FILE_HEAD_BYTES = 100  # before the first page's own head [1.3]
MAGIC = b"SQLite format 3\0"
WAL_HEAD_BYTES, FRAME_HEAD_BYTES = 32, 24  # [4.1]
TABLE_LEAF, INDEX_LEAF, INDEX_INNER = 0x0D, 0x0A, 0x02  # [1.6]
MOST_TABLE_BYTES = PAGE_BYTES - 35  # of a row that are kept without overflow pages [1.6]
MOST_INDEX_BYTES = (PAGE_BYTES - 12) * 64 // 255 - 23
LEAST_BYTES = (PAGE_BYTES - 12) * 32 // 255 - 23
INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}  # by serial type [2.1]

Value: TypeAlias = str | int | float | bytes | None


class Pages:
    """All images of all pages of a database and its write-ahead logs."""

    def __init__(self, database: bytes | mmap.mmap, logs: Iterable[bytes]) -> None:
        self._database = database
        self._frames = [frame for log in logs for frame in frames_in(log)]
        self._newest = dict(self._frames)

    def images(self) -> Iterator[tuple[int, bytes]]:
        """Yield page number and image: those of the database, then those of the logs as written."""
        for number in range(1, len(self._database) // PAGE_BYTES + 1):
            yield number, self.in_database(number)
        yield from self._frames

    def in_database(self, number: int) -> bytes:
        """Return a page as the database has it, empty where it has not."""
        return self._database[(number - 1) * PAGE_BYTES : number * PAGE_BYTES] if number else b""

    def newest(self, number: int) -> bytes:
        """Return a page as it was written last."""
        return self._newest.get(number) or self.in_database(number)


def frames_in(log: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield page number and image of every frame of a write-ahead log [4.1]."""
    frame_bytes = FRAME_HEAD_BYTES + PAGE_BYTES
    for start in range(WAL_HEAD_BYTES, len(log) - frame_bytes + 1, frame_bytes):
        (number,) = struct.unpack_from(">I", log, start)
        yield number, log[start + FRAME_HEAD_BYTES : start + frame_bytes]


@contextmanager
def pages_of(database: Path, logs: Iterable[Path]) -> Iterator[Pages]:
    """Hold the pages of a database and its write-ahead logs; the database may be missing."""
    frames = [log.read_bytes() for log in logs]
    if not database.exists() or database.stat().st_size == 0:
        yield Pages(b"", frames)
        return
    with (
        database.open("rb") as file,
        mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as mapped,
    ):
        yield Pages(mapped, frames)


def rows_in(pages: Pages) -> Iterator[tuple[int | None, list[Value]]]:
    """Yield number and values of every row that can be read; rows of an index have no number."""
    for number, image in pages.images():
        if len(image) == PAGE_BYTES:
            for head in heads(number, image):
                yield from rows_on(image, head, pages)


def heads(number: int, image: bytes) -> tuple[int, ...]:
    """Return where the head may begin: the first page may have been moved, or another to it."""
    if image.startswith(MAGIC):
        return (FILE_HEAD_BYTES,)
    return (0, FILE_HEAD_BYTES) if number == 1 else (0,)


def rows_on(image: bytes, head: int, pages: Pages) -> Iterator[tuple[int | None, list[Value]]]:
    """Yield the rows on one page."""
    kind = image[head]
    if kind not in (TABLE_LEAF, INDEX_LEAF, INDEX_INNER):
        return
    inner_bytes = 4 if kind == INDEX_INNER else 0
    (count,) = struct.unpack_from(">H", image, head + 3)
    first = head + 8 + inner_bytes
    for place in range(first, min(first + 2 * count, PAGE_BYTES - 1), 2):
        (cell,) = struct.unpack_from(">H", image, place)
        try:
            length, start = varint(image, cell + inner_bytes)
            rowid = None
            if kind == TABLE_LEAF:
                rowid, start = varint(image, start)
            most = MOST_TABLE_BYTES if kind == TABLE_LEAF else MOST_INDEX_BYTES
            for payload in payloads(image, start, length, most, pages):
                yield rowid, record(payload)
        except (IndexError, ValueError, struct.error):
            continue  # this cell is damaged; the others may be whole


def payloads(image: bytes, start: int, length: int, most: int, pages: Pages) -> Iterator[bytes]:
    """Yield what a cell holds; twice if it goes on in pages of which there are two images."""
    if length <= most:
        yield image[start : start + length]
        return
    local = LEAST_BYTES + (length - LEAST_BYTES) % (PAGE_BYTES - 4)
    local = local if local <= most else LEAST_BYTES
    head = image[start : start + local]
    (number,) = struct.unpack_from(">I", image, start + local)
    newest = head + overflow(number, length - local, pages.newest)
    yield newest
    older = head + overflow(number, length - local, pages.in_database)
    if older != newest:
        yield older


def overflow(number: int, length: int, page: Callable[[int], bytes]) -> bytes:
    """Return what follows in a chain of overflow pages, as far as it goes [1.6]."""
    parts = []
    while length > 0:
        image = page(number)
        if len(image) < PAGE_BYTES:
            raise ValueError("the chain of pages is broken")
        parts.append(image[4 : 4 + length])
        length -= PAGE_BYTES - 4
        (number,) = struct.unpack_from(">I", image)
    return b"".join(parts)


def record(payload: bytes) -> list[Value]:
    """Return the values of a record; raise ValueError or IndexError if it is none [2.1]."""
    head_bytes, place = varint(payload, 0)
    if head_bytes > len(payload):
        raise ValueError("the head is longer than the record")
    body, values = head_bytes, []
    while place < head_bytes:
        serial_type, place = varint(payload, place)
        value, body = value_at(payload, body, serial_type)
        values.append(value)
    if body != len(payload):
        raise ValueError("the values do not fill the record")
    return values


def value_at(payload: bytes, place: int, serial_type: int) -> tuple[Value, int]:
    """Return the value of a serial type, and where it ends."""
    if serial_type >= 12:
        end = place + (serial_type - 12) // 2
        contents = payload[place:end]
        return (contents.decode() if serial_type % 2 else contents), end
    if serial_type in INTEGER_BYTES:
        end = place + INTEGER_BYTES[serial_type]
        return int.from_bytes(payload[place:end], "big", signed=True), end
    if serial_type == 7:
        (real,) = struct.unpack_from(">d", payload, place)
        return float(real), place + 8
    if serial_type in (8, 9):
        return serial_type - 8, place
    if serial_type == 0:
        return None, place
    raise ValueError("there is no such type")


def varint(image: bytes, place: int) -> tuple[int, int]:
    """Return a number of one to nine bytes, and where it ends [1.6]."""
    value = 0
    for length in range(8):
        byte = image[place + length]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + length + 1
    return value << 8 | image[place + 8], place + 9
