"""Every text of the technician's screen that is not about one unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from station.screens.technician.servicewords import change_lines, run_line
from station.service.servicetest import ServiceTest

PROMPT = "scan a unit that came back"
NO_UNIT = "No unit yet."
SCAN = "Scan the serial number of a unit."
LOOKING = "Looking it up."
PRINTING = "Writing the paper."
TESTING = "The test starts."
HELP = (
    "Scan a unit, open its service, test, repair, note part and cause, test again, check the "
    "partner, print, close. Each step is kept at once. Esc stops a test."
)
KEYS = (
    "F2 open  F3 test  F4 part  F5 cause  F6 partner  F7 view\n"
    "F8 certificate  F9 rework card  F10 close  Esc stop  Ctrl+Q quit"
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A form: its title, its lines, and a remark."""

    title: str
    asked: tuple[str, ...]
    hint: str = ""


OPEN = Asked(
    "Open a service",
    (
        "Complaint, in the owner's words",
        "Revision on its plate (only for a unit older than the log)",
    ),
)
PART = Asked(
    "Replaced part", ("Part, such as C2 or woofer", "Batch (may stay empty)", "Why it was replaced")
)
CAUSE = Asked("Confirmed cause", ("Part at fault", "What was wrong with it?"))
PARTNER = Asked("Partner of the pair", ("Serial number of the other unit",))
CLOSE = Asked("Close the service", ("Last remark (may stay empty)",))
TEST = Asked(
    "Test the unit",
    ("Service revision (empty: as it was built)",),
    "The sweep is loud: close the fixture, or protect your ears.",
)


def who_line(by: str) -> str:
    """Return who works here."""
    return f"{by}   F1 help"


def answer(test: ServiceTest, suspect: str) -> str:
    """Return a test's verdict, who is suspected of a fail, and how the unit has changed."""
    suspected = [f"Suspect: {suspect}"] if suspect else []
    return "\n".join([run_line(test.final), *suspected, *change_lines(test.change)])


def written_line(paths: Sequence[Path]) -> str:
    """Return where paper was written."""
    return f"Written: {', '.join(map(str, paths))}"


def view_title(reading: str, *, as_built: bool) -> str:
    """Return what the picture shows, short enough for its legend beside it on 80 columns."""
    return "as built" if as_built else reading
