"""A unit held in the fixture from the operator's start to the moment it may be taken out."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress

from station.cycle.unit.report import Progress, ProgressCallback, Stage
from station.errors import FixtureError
from station.hardware.protocols.fixture import Fixture, Lamp
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run

LAMPS: Mapping[Verdict, Lamp] = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "fail",
    Verdict.VOID: "void",
}


def lamp_of(run: Run) -> Lamp:
    """Return the lamp of a run's verdict; a trial says nothing about the unit."""
    return "void" if run.trial else LAMPS[run.judgement.verdict]


@contextmanager
def held(
    fixture: Fixture,
    serial: str,
    model: str,
    on_progress: ProgressCallback,
    stop: threading.Event,
    ears_db_spl: float | None,
) -> Iterator[Callable[[Lamp], None]]:
    """Hold a unit inside, and yield what lights the lamp of its verdict.

    Raises FixtureError if the fixture cannot hold it, or cannot let it go safely: then the answer
    is not told, because the operator must not open the lid; its runs are stored all the same.
    """

    def tell(stage: Stage) -> None:
        on_progress(Progress(stage, 1, ears_db_spl=ears_db_spl))

    fixture.await_start(stop, lambda: tell(Stage.WAITING))
    tell(Stage.SECURING)
    fixture.secure(serial, model)
    try:
        fixture.show("busy")
        yield fixture.show
    except BaseException:
        with suppress(FixtureError):  # what went wrong first is what must be told
            fixture.show("station")
        raise
    finally:
        fixture.release()
