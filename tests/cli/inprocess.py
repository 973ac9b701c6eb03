"""Commands run in this process, with what they printed."""

from __future__ import annotations

import json
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

from station.cli.running import exit_code_of


class Outcome:
    """Exit code and output of one command."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err
        assert "Traceback" not in out + err

    def runs(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.out.splitlines()]


def quietly(*arguments: str | Path) -> Outcome:
    """Run a command and keep what it prints."""
    with redirect_stdout(StringIO()) as out, redirect_stderr(StringIO()) as err:
        code = exit_code_of([str(argument) for argument in arguments])
    return Outcome(code, out.getvalue(), err.getvalue())
