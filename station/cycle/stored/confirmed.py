"""How often the part that a repair confirmed to be at fault was the one suspected."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from station.cycle.stored.suspicion import Suspicion
from station.diagnosis.named.suspect import Suspect
from station.judging.files.shelf import LimitShelf
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog

FIRST_FEW = 3


@dataclass(frozen=True, slots=True)
class Comparison:
    """A confirmed cause beside what the station suspected.

    `place` counts from 1; None where the part was not among the suspects, or the unit was not
    tested before its repair (`tested` is False then).
    """

    serial: str
    model: str
    confirmed: str
    words: str
    suspected: tuple[str, ...]
    tested: bool
    place: int | None


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts over comparisons with a test before the repair."""

    compared: int
    first: int
    in_first_few: int


def comparisons(log: RunLog, shelf: LimitShelf | None) -> Iterator[Comparison]:
    """Yield every confirmed cause with what is suspected of the run before the repair."""
    suspicion = Suspicion()
    for cause in ServiceLog(log).confirmed_causes():
        run = run_of(log, cause.serial, cause.before_run_id)
        suspects: tuple[Suspect, ...] = ()
        if run is not None:
            suspects = suspicion.of_run(run, shelf).named
        names = tuple(named(suspect) for suspect in suspects)
        places = [at for at, one in enumerate(suspects, start=1) if accuses(one, cause.part)]
        place = places[0] if places else None
        yield Comparison(
            cause.serial, cause.model, cause.part, cause.words, names, run is not None, place
        )


def run_of(log: RunLog, serial: str, run_id: str | None) -> Run | None:
    """Return a unit's run by its id, if there is one."""
    if run_id is None:
        return None
    return next((run for run in log.runs_of(serial) if run.run_id == run_id), None)


def named(suspect: Suspect) -> str:
    """Return whom a suspect names."""
    return f"{suspect.part} and {suspect.beside}" if suspect.beside else suspect.part


def accuses(suspect: Suspect, part: str) -> bool:
    """Return whether a suspect is the confirmed part, whatever case it was typed in."""
    wanted = part.strip().casefold()
    return wanted in {suspect.part.casefold(), suspect.beside.casefold(), named(suspect).casefold()}


def tally_of(compared: Iterable[Comparison]) -> Tally:
    """Return how often the confirmed part came first, and among the first three."""
    known = [one for one in compared if one.tested]
    places = [one.place for one in known if one.place is not None]
    return Tally(
        len(known),
        sum(place == 1 for place in places),
        sum(place <= FIRST_FEW for place in places),
    )
