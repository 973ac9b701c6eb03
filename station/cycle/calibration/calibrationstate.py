"""How the inputs of a station stand: calibrated when, due when, and may a unit be tested.

The newest accepted calibration of an input replaces the full scale of the station file. No unit
is tested on an input that is due, or whose newest calibration was refused: the station knows then
that the input is not what the readings would claim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from station.cycle.bench.bench import Bench
from station.errors import StationFaultError
from station.hardware.files.stationfile import StationFile
from station.records.kept.calibration import Calibration, Place
from station.records.log.log import RunLog

INPUT_WORDS: dict[str, str] = {
    "microphone": "microphone",
    "ambient": "ambient microphone",
    "rear": "rear microphone",
    "current": "current sense",
}
"""Every input that can be calibrated; the voltage is what the others are calibrated against."""

COMMANDS: dict[str, str] = {
    "microphone": "station calibrate microphone",
    "ambient": "station calibrate microphone --role ambient",
    "rear": "station calibrate microphone --role rear",
    "current": "station calibrate current",
}


@dataclass(frozen=True, slots=True)
class InputState:
    """One input with its newest calibration, and the one in use: the newest accepted."""

    place: Place
    due_days: float | None
    newest: Calibration | None
    in_use: Calibration | None

    @property
    def words(self) -> str:
        """What people call the input."""
        return INPUT_WORDS[self.place.role]

    @property
    def full_scale(self) -> float:
        """What full scale means now, in the role's unit."""
        return self.place.filed_full_scale if self.in_use is None else self.in_use.full_scale

    @property
    def due_utc(self) -> datetime | None:
        """When the next calibration is due; None if never, or if there is none yet."""
        if self.due_days is None or self.in_use is None:
            return None
        return self.in_use.calibrated_utc + timedelta(days=self.due_days)

    def fault(self, now_utc: datetime) -> StationFaultError | None:
        """Return why no unit may be tested, None if one may."""
        happened = self.happened(now_utc)
        if happened is None:
            return None
        return StationFaultError(
            happened, f"Calibrate the {self.words}: {COMMANDS[self.place.role]}."
        )

    def happened(self, now_utc: datetime) -> str | None:
        """Return what is wrong with the calibration, as one sentence."""
        if self.newest is not None and not self.newest.accepted:
            day = day_words(self.newest.calibrated_utc)
            return f"The calibration of the {self.words} of {day} was refused."
        if self.due_days is None:
            return None
        if self.in_use is None:
            return f"The {self.words} was never calibrated as the station file has it now."
        day = day_words(self.in_use.calibrated_utc)
        if self.in_use.calibrated_utc > now_utc:
            return (
                f"The {self.words} was calibrated on {day}, which is yet to come: the clock is off."
            )
        if self.due_utc is not None and now_utc >= self.due_utc:
            return (
                f"The calibration of the {self.words} of {day} is over its {self.due_days:g} days."
            )
        return None


def day_words(instant: datetime) -> str:
    """Return an instant to the minute."""
    return f"{instant:%Y-%m-%d %H:%M} UTC"


def places_of(station: StationFile) -> tuple[Place, ...]:
    """Return every input that can be calibrated, in the order of the station file."""
    return tuple(
        Place(station.name, station.audio.device, one.input, one.role, one.full_scale)
        for one in station.inputs
        if one.role in INPUT_WORDS
    )


def input_states(station: StationFile, log: RunLog | None) -> tuple[InputState, ...]:
    """Return how each input of a station file stands by the log; None: there is none yet."""
    tables = {} if station.calibration is None else station.calibration.channels()
    return tuple(
        InputState(
            place,
            tables[place.role].due_days if place.role in tables else None,
            None if log is None else log.newest_calibration(place),
            None if log is None else log.newest_calibration(place, accepted=True),
        )
        for place in places_of(station)
    )


def calibrated_bench(bench: Bench, log: RunLog) -> Bench:
    """Return a bench whose inputs are read by their newest accepted calibrations.

    Looked up before every unit: a calibration made meanwhile counts from the next unit on.

    Raises
    ------
    StationFaultError
        If an input is due, or its newest calibration was refused.
    """
    states = input_states(bench.station, log)
    now_utc = bench.clock.utc_now()
    for state in states:
        if (fault := state.fault(now_utc)) is not None:
            raise fault
    full_scales = {state.place.role: state.full_scale for state in states}
    inputs = tuple(
        one.model_copy(update={"full_scale": full_scales.get(one.role, one.full_scale)})
        for one in bench.station.inputs
    )
    return replace(
        bench,
        station=bench.station.model_copy(update={"inputs": inputs}),
        calibrations={state.place.role: state.in_use for state in states},
    )
