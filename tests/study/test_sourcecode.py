from __future__ import annotations

from pathlib import Path

import station
from station.study.sourcecode import DECIDING, source_digest


def package(folder: Path) -> Path:
    for layer in (*DECIDING, "screens"):
        (folder / layer / "inner").mkdir(parents=True)
        (folder / layer / "inner" / "one.py").write_text(f"# {layer}\n")
    return folder


def test_a_change_anywhere_in_a_deciding_layer_shows(tmp_path: Path) -> None:
    folder = package(tmp_path)
    before = source_digest(folder)
    assert source_digest(folder) == before
    seen = {before}
    for layer in DECIDING:
        (folder / layer / "inner" / "one.py").write_text("changed = True\n")
        seen.add(source_digest(folder))
    (folder / "simulation" / "inner" / "one.py").rename(folder / "simulation" / "two.py")
    seen.add(source_digest(folder))
    assert len(seen) == len(DECIDING) + 2


def test_a_screen_decides_nothing(tmp_path: Path) -> None:
    folder = package(tmp_path)
    before = source_digest(folder)
    (folder / "screens" / "inner" / "one.py").write_text("changed = True\n")
    (folder / "analysis" / "one.pyc").write_text("no source")
    assert source_digest(folder) == before


def test_every_deciding_layer_of_this_program_is_there() -> None:
    (root,) = station.__path__
    assert all((Path(root) / layer / "__init__.py").exists() for layer in DECIDING)
