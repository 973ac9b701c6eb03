"""A technician's day by keys alone, on the real cycle, log and paper, with simulated units."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot
from textual.worker import WorkerFailed

from station.cli.service.technician import PaperPrinter, views_of
from station.errors import StationError
from station.screens.shared.forms import Form
from station.screens.technician.app import TechnicianApp
from station.screens.technician.screen import TechnicianScreen
from station.screens.technician.servicewords import next_step
from station.service.builtlimits import limit_sources
from tests.reports.reading import codes_in, pictures_of, text_of
from tests.service.bench import Works, limits_folder, works

UNIT, PARTNER = "T2A00301", "T2A00302"


class Technician:
    """Somebody with a scanner and a keyboard, who reads the screen."""

    def __init__(self, pilot: Pilot[None], app: TechnicianApp) -> None:
        self.pilot = pilot
        self.app = app

    async def types(self, text: str) -> None:
        """Type faster than the screen can react; a line end is Enter."""
        for character in text:
            enter = character == "\n"
            event = events.Key("enter" if enter else character, None if enter else character)
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.settle()

    async def presses(self, key: str) -> None:
        await self.pilot.press(key)
        await self.settle()

    async def settle(self) -> None:
        """Let every worker end and every message arrive."""
        await self.pilot.pause()
        while list(self.app.workers):
            with contextlib.suppress(WorkerFailed):  # the screen's own handler is looked at
                await self.app.workers.wait_for_complete()
            await self.pilot.pause()
        await self.pilot.pause()

    @property
    def sees(self) -> str:
        strips = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text.rstrip() for strip in strips)


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Works]:
    with works(tmp_path, limits_folder(tmp_path / "limits")) as here:
        yield here


@asynccontextmanager
async def at_desk(here: Works, size: tuple[int, int] = (120, 36)) -> AsyncIterator[Technician]:
    sources = limit_sources(here.folder / "limits")
    faults: list[BaseException] = []
    screen = TechnicianScreen(
        here.desk,
        PaperPrinter(here.log, sources, here.folder / "paper", "en", "a4"),
        views_of,
        by="T. Beck",
        station_name="Bench 2",
        simulated=True,
        on_fault=faults.append,
    )
    app = TechnicianApp(screen)
    async with app.run_test(size=size) as pilot:
        technician = Technician(pilot, app)
        await technician.settle()
        yield technician
    assert not faults


@pytest.mark.usefixtures("pdf_libraries")
async def test_a_day_from_look_up_to_certificate(here: Works) -> None:
    here.build(UNIT)
    here.build(PARTNER)
    here.faults[UNIT] = {"dead_tweeter": 1.0}
    async with at_desk(here) as technician:
        await technician.types(f"{UNIT}\n")
        assert "Left the factory 2026-11-25" in technician.sees
        assert "Open a service for this unit." in technician.sees
        await technician.presses("f2")
        await technician.types("No treble.\n\n")
        assert "IN SERVICE since 2026-11-25, T. Beck" in technician.sees
        await technician.presses("f3")
        await technician.types("\n")
        assert "✗ FAIL  Tweeter silent" in technician.sees
        assert "Suspect: The tweeter seems open" in technician.sees
        assert "As built: OUTSIDE its limits." in technician.sees
        assert "▼" in technician.sees  # the picture marks what lies below
        await technician.presses("f9")
        assert f"{UNIT}-rework.pdf" in technician.sees.replace("\n", "").replace(" ", "")
        await technician.presses("f4")
        await technician.types("tweeter\nlot 7\nCoil open.\n")
        assert "replaced tweeter (lot 7): Coil open." in technician.sees
        await technician.presses("f5")
        await technician.types("tweeter\nCoil open.\n")
        here.faults[UNIT] = {}  # the technician has put the new tweeter in
        await technician.presses("f3")
        await technician.types("\n")
        assert "✓ PASS" in technician.sees
        assert "As built: INSIDE its limits." in technician.sees
        await technician.presses("f7")
        assert "as built   ▀ measured" in technician.sees
        await technician.presses("f6")
        await technician.types(f"{PARTNER}\n")
        assert "(inside limits)" in technician.sees
        await technician.presses("f8")
        await technician.presses("f10")
        await technician.types("Returned to its owner.\n")
        assert "Service 2026-11-25: tweeter" in technician.sees
    pdf = (here.folder / "paper" / f"{UNIT}-certificate.pdf").read_bytes()
    found = text_of(pdf)
    for words in ("PASS", "tweeter", "lot 7", "No treble.", PARTNER, "Now against as built"):
        assert words in found
    assert UNIT in codes_in(pictures_of(pdf)[0]).values()
    (service,) = here.desk.look_up(UNIT).services
    assert not service.is_open
    assert here.log.chain_fault() is None


def test_a_unit_that_passes_as_it_came_is_not_sent_to_be_repaired(here: Works) -> None:
    here.build(UNIT)
    here.desk.open(UNIT, "T. Beck", "Sounds dull.")
    here.test(UNIT)
    assert next_step(here.desk.look_up(UNIT)).startswith("It passes as it is")


async def test_whoever_goes_on_sees_the_newest_test_until_something_is_repaired(
    here: Works,
) -> None:
    here.build(UNIT)
    here.faults[UNIT] = {"dead_tweeter": 1.0}
    here.desk.open(UNIT, "T. Beck", "No treble.")
    here.test(UNIT)
    async with at_desk(here) as technician:
        await technician.types(f"{UNIT}\n")
        assert "✗ FAIL  Tweeter silent" in technician.sees
        assert "Suspect: The tweeter seems open" in technician.sees
        assert "As built: OUTSIDE its limits." in technician.sees
        assert "▼" in technician.sees
        await technician.presses("f4")
        await technician.types("tweeter\n\n\n")
        await technician.types(f"{UNIT}\n")
        assert "✗ FAIL  Tweeter silent" not in technician.sees


async def test_a_refusal_is_a_sentence_and_harms_nothing(here: Works) -> None:
    here.build(UNIT)
    async with at_desk(here, (80, 24)) as technician:
        await technician.presses("f3")
        assert "Scan the serial number of a unit." in technician.sees
        await technician.types("Q1\n")
        assert "No limit file in" in technician.sees
        await technician.types(f"{UNIT}\n")
        await technician.presses("f3")
        await technician.types("\n")
        assert "is not in service" in technician.sees
        await technician.presses("f9")
        assert "newest run of T2A00301 is a PASS" in technician.sees.replace("\n", " ")
        await technician.presses("f2")
        await technician.presses("escape")
        assert here.desk.look_up(UNIT).services == ()
        assert not isinstance(technician.app.screen, Form)


async def test_a_bug_at_the_desk_is_a_station_fault_and_never_an_old_answer(here: Works) -> None:
    here.build(UNIT)

    class Broken(PaperPrinter):
        def certificate(self, serial: str) -> tuple[Path, ...]:
            raise KeyError(serial)

    kept: list[BaseException] = []
    screen = TechnicianScreen(
        here.desk,
        Broken(here.log, limit_sources(here.folder / "limits"), here.folder, "en", "a4"),
        views_of,
        by="T. Beck",
        station_name="Bench 2",
        simulated=False,
        on_fault=kept.append,
    )
    app = TechnicianApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        technician = Technician(pilot, app)
        await technician.types(f"{UNIT}\n")
        await technician.presses("f8")
        assert [type(error) for error in kept] == [KeyError]
        assert "fault" in technician.sees.lower()
        assert not screen.working
    assert not isinstance(kept[0], StationError)
