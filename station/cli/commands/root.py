"""The command line as a whole.

`station --help` must answer at once, and scipy and textual take far longer to import than it
takes to read these files. So nothing heavy is imported here: hence the imports inside functions.
"""

from __future__ import annotations

import click

from station.cli.commands.calibrating import calibrate
from station.cli.commands.engineering import engineer, forecast, learn, try_draft
from station.cli.commands.gauging import gauge
from station.cli.commands.keeping import autostart, backup, doctor, let_go, verify_log
from station.cli.commands.limits import limits, power
from station.cli.commands.log import history, pair, shift_report
from station.cli.commands.lookup import compare, find, replay
from station.cli.commands.paper import certificate, label, rework_card, shift_page
from station.cli.commands.roles import keys, people
from station.cli.commands.servicing import service, technician
from station.cli.commands.suspects import repairs, suspect
from station.cli.commands.testing import demo, judge, run, stimulus, test, window
from station.cli.commands.watching import export, watch


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="station", prog_name="station")
def station() -> None:
    """Test finished loudspeakers at the end of the line.

    Exit codes: 0 pass or done, 1 fail, 2 wrong use or refused input, 3 void, 4 station fault.
    """


for command in (
    demo, run, test, window, judge, stimulus,
    history, find, replay, compare, pair, shift_report,
    suspect, repairs,
    certificate, rework_card, label, shift_page,
    service, technician,
    limits, power, engineer,
    calibrate, doctor, autostart,
    watch, gauge, export,
    verify_log, backup, let_go,
    people, keys,
):  # fmt: skip
    station.add_command(command)
for command in (learn, try_draft, forecast):
    limits.add_command(command)
