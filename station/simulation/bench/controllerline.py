"""The simulated devices' own end of the line protocol, written from its description alone.

It shares no code with the station's end, so that no mistake can hide on both sides.
"""

from __future__ import annotations

from collections.abc import Sequence

POLYNOMIAL = 0xEDB88320  # reflected
ALL_ONES = 0xFFFFFFFF


def crc_of(data: bytes) -> int:
    """Return the CRC-32 of bytes, bit by bit as the standards define it."""
    register = ALL_ONES
    for byte in data:
        register ^= byte
        for _bit in range(8):
            register = (register >> 1) ^ (POLYNOMIAL if register & 1 else 0)
    return register ^ ALL_ONES


def spoken(number: int, words: Sequence[str]) -> bytes:
    """Return a line as it goes out."""
    body = " ".join([str(number), *words]).encode("ascii")
    return body + f" *{crc_of(body):08X}\n".encode("ascii")


def understood(line: bytes) -> tuple[int, list[str]] | None:
    """Return number and words of a line, None if its check sum is wrong."""
    cut = line.rfind(b" *")
    if cut < 0 or line[cut + 2 :] != f"{crc_of(line[:cut]):08X}".encode("ascii"):
        return None
    number, *words = line[:cut].decode("ascii", "replace").split(" ")
    return (int(number), words) if number.isdigit() and words else None
