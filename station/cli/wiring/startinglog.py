"""The log as the line opens it: looked at closely, leftovers swept up, and said what was mended."""

from __future__ import annotations

from pathlib import Path

import click

from station.hardware.protocols.clock import Clock
from station.records.log.log import RunLog


def log_for_line(folder: Path, clock: Clock) -> RunLog:
    """Open a log for the tests of a shift; tell on the error stream what had to be done."""
    log = RunLog.open(folder, thorough=True, utc_now=clock.utc_now)
    try:
        for sentence in log.mended:
            click.echo(f"{sentence} Tell the quality engineer.", err=True)
        for left in log.sweep_up(clock.utc_now()):
            click.echo(f"Swept up a file that was never finished: {left.name}.", err=True)
    except BaseException:
        log.close()
        raise
    return log
