"""Codes for scanners as SVG: a QR code with unit, run and hash, a Code 128 with the serial."""

from __future__ import annotations

import segno
from barcode import Code128
from barcode.errors import BarcodeError

from station.errors import RefusedInputError

HASH_DIGITS = 16  # enough to find the entry, short enough for a code that prints small
QUIET_MODULES = 10  # ISO/IEC 15417: at least ten modules free at either side
BAR_HEIGHT = 26


def unit_code(serial: str, run_id: str, run_hash: str) -> str:
    """Return what the QR code says: three lines with serial, run and the start of its hash."""
    return f"{serial}\nrun {run_id}\nhash {run_hash[:HASH_DIGITS]}"


def qr_picture(contents: str) -> str:
    """Return a QR code (ISO/IEC 18004, error correction M) that takes the width it is given."""
    code = segno.make(contents, error="m", micro=False)
    return str(code.svg_inline(border=4, omitsize=True, dark="#000", light="#fff"))


def bar_picture(serial: str) -> str:
    """Return a Code 128 of a serial number; raise RefusedInputError if it has no such code."""
    try:
        (modules,) = Code128(serial).build()
    except BarcodeError as error:
        raise RefusedInputError(
            f"The serial number {serial!r} cannot stand in a Code 128: {error}.",
            "Use letters, digits and signs of ASCII.",
        ) from error
    width = len(modules) + 2 * QUIET_MODULES
    bars = "".join(
        f'<rect x="{start + QUIET_MODULES}" y="0" width="{length}" height="{BAR_HEIGHT}"/>'
        for start, length in runs_of_ones(modules)
    )
    return (
        f'<svg viewBox="0 0 {width} {BAR_HEIGHT}" preserveAspectRatio="none" '
        f'shape-rendering="crispEdges" role="img" aria-label="Code 128" '
        f'xmlns="http://www.w3.org/2000/svg"><rect width="{width}" height="{BAR_HEIGHT}" '
        f'fill="#fff"/>{bars}</svg>'
    )


def runs_of_ones(modules: str) -> list[tuple[int, int]]:
    """Return start and length of each bar."""
    found: list[tuple[int, int]] = []
    start = 0
    while (begin := modules.find("1", start)) >= 0:
        end = modules.find("0", begin)
        start = len(modules) if end < 0 else end
        found.append((begin, start - begin))
    return found
