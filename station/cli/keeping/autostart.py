"""`station autostart`: a service file that shows the operator's screen on a console at boot."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit

# Longer than any test: a run under way is stored before the program ends (TERM asks it to).
STOP_WITHIN_S = 60
AGAIN_AFTER_S = 5

TEXT = """# For systemd, which starts the station with the computer. Keep it with:
#   station autostart --user NAME | sudo tee /etc/systemd/system/station.service
#   sudo systemctl enable --now station.service
[Unit]
Description=End-of-line test station
After=sound.target local-fs.target time-sync.target
Conflicts=getty@{console}.service

[Service]
User={user}
SupplementaryGroups=audio dialout
WorkingDirectory={folder}
ExecStart={command}
StandardInput=tty-force
StandardOutput=tty
StandardError=tty
TTYPath=/dev/{console}
TTYReset=yes
KillSignal=SIGTERM
TimeoutStopSec={stop_s}
Restart=on-failure
RestartSec={again_s}

[Install]
WantedBy=multi-user.target
"""


def print_service_file(user: str, console: str, arguments: tuple[str, ...]) -> int:
    """Print the service file of a station that runs from this folder with this program."""
    program = Path(sys.argv[0]).resolve()
    command = shlex.join([str(program), "run", *arguments])
    click.echo(
        TEXT.format(
            user=user,
            console=console,
            folder=Path.cwd(),
            command=command,
            stop_s=STOP_WITHIN_S,
            again_s=AGAIN_AFTER_S,
        ),
        nl=False,
    )
    return Exit.PASS
