"""A command run in process, with what it printed."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from station.cli.running import exit_code_of
from tests.cli.inprocess import Outcome, quietly
from tests.cli.works import Works, released_works


@pytest.fixture
def station(capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*arguments: str | Path) -> Outcome:
        code = exit_code_of([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return run


@pytest.fixture(scope="session")
def released_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a works with released limits, made once: its secrets take their time."""
    folder = tmp_path_factory.mktemp("works")
    released_works(folder, quietly)
    return folder


@pytest.fixture
def works(released_folder: Path, tmp_path: Path, station: Any) -> Works:
    """Return a works of its own whose Tarn 2 is released by the key `works.key`."""
    shutil.copytree(released_folder, tmp_path, dirs_exist_ok=True)
    return Works(tmp_path, station)
