"""The service file: every word of it is one that systemd knows, and it runs this station."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest


def test_the_service_file_runs_this_program_with_the_given_options(station: Any) -> None:
    shown = station("autostart", "--user", "line1", "--station-file", "/etc/station/line 1.toml")
    assert shown.code == 0
    assert "run --station-file '/etc/station/line 1.toml'" in shown.out
    assert "User=line1" in shown.out
    assert f"WorkingDirectory={Path.cwd()}" in shown.out


@pytest.mark.tools
def test_systemd_finds_no_fault_in_it(
    station: Any, tmp_path: Path, tool: Callable[[str], str]
) -> None:
    analyze = tool("systemd-analyze")
    shown = station("autostart", "--user", "root")
    (program,) = [line for line in shown.out.splitlines() if line.startswith("ExecStart=")]
    runnable = shutil.which("true")
    path = tmp_path / "station.service"
    path.write_text(shown.out.replace(program, f"ExecStart={runnable} run"))
    found = subprocess.run(
        [analyze, "verify", str(path)], capture_output=True, text=True, check=False, timeout=60
    )
    complaints = [line for line in found.stderr.splitlines() if "station.service" in line]
    assert (found.returncode, complaints) == (0, [])
