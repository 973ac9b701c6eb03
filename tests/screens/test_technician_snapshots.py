"""The technician's screen as text at its two sizes, compared with what somebody has looked at.

To renew a snapshot after a wanted change, delete its file and run this twice: the first run
writes it and fails, so that nothing new passes unseen.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.screens.test_snapshots import SNAPSHOTS
from tests.screens.test_technician import PARTNER, UNIT, Technician, at_desk
from tests.service.bench import Works, limits_folder, works

SIZES = [(80, 24), (120, 36)]


class Album:
    """Compares what is shown with the saved pictures, and writes those that are missing."""

    def __init__(self, technician: Technician, size: tuple[int, int]) -> None:
        self.technician = technician
        self.size = size
        self.written: list[str] = []

    def compare(self, name: str) -> None:
        columns, rows = self.size
        path = SNAPSHOTS / f"technician-{name}-{columns}x{rows}.txt"
        shown = self.technician.sees + "\n"
        if path.exists():
            assert shown == path.read_text(encoding="utf-8"), path.name
        else:
            path.write_text(shown, encoding="utf-8")
            self.written.append(path.name)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x36"])
async def test_the_screen_looks_as_it_did(tmp_path: Path, size: tuple[int, int]) -> None:
    with works(tmp_path, limits_folder(tmp_path / "limits")) as here:
        async with at_desk(here, size) as technician:
            album = Album(technician, size)
            await a_service(here, technician, album)
    assert not album.written, "look at them, then run again"


async def a_service(here: Works, technician: Technician, album: Album) -> None:
    """Go through a service, and look at the screen at every turn."""
    here.build(UNIT)
    here.build(PARTNER)
    here.faults[UNIT] = {"dead_tweeter": 1.0}
    album.compare("empty")
    await technician.types(f"{UNIT}\n")
    album.compare("found")
    await technician.presses("f3")
    await technician.types("\n")
    album.compare("refused")
    await technician.presses("f2")
    album.compare("form")
    await technician.types("No treble.\n\n")
    await technician.presses("f3")
    await technician.types("\n")
    album.compare("fail")
    await technician.presses("f4")
    await technician.types("tweeter\nlot 7\nCoil open.\n")
    await technician.presses("f5")
    await technician.types("tweeter\nCoil open.\n")
    album.compare("repaired")
    here.faults[UNIT] = {}
    await technician.presses("f3")
    await technician.types("\n")
    await technician.presses("f6")
    await technician.types(f"{PARTNER}\n")
    await technician.presses("f7")
    album.compare("pass")
    await technician.presses("f1")
    album.compare("help")
    await technician.presses("f10")
    await technician.types("Returned to its owner.\n")
    album.compare("closed")
