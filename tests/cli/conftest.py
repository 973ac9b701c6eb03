"""A command run in process, with what it printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from station.cli.running import exit_code_of


class Outcome:
    """Exit code and output of one command."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err
        assert "Traceback" not in out + err

    def runs(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.out.splitlines()]


@pytest.fixture
def station(capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*arguments: str | Path) -> Outcome:
        code = exit_code_of([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return run
