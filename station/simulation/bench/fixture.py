"""The simulated fixture: which unit stands on the bench, under which conditions."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

from station.errors import FixtureError
from station.hardware.protocols.fixture import Lamp, OnUnsafe
from station.simulation.bench.calibrator import SimulatedCalibrator, SimulatedResistor
from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import checked_station_faults
from station.simulation.physics.speaker import SimulatedUnit
from station.simulation.products.units import serial_of_another_model, simulated_unit

FaultsOf = Callable[[str], Mapping[str, float]] | Mapping[str, Mapping[str, float]]
ConditionsOf = Callable[[str], Conditions]  # of a serial number, when it is put on the bench


class SimulatedFixture:
    """Puts the simulated unit with the scanned serial number on the bench.

    `lid_opens_s` is when somebody opens the lid, counted from the beginning of the next sweep;
    `lid_closes_s`, when it is closed again, so quickly that nobody may notice.
    """

    def __init__(
        self,
        *,
        seed: int,
        faults_of: FaultsOf,
        lid_open: bool = False,
        conditions_of: ConditionsOf | None = None,
        batch_ratio: float = 0.0,
    ) -> None:
        self.lid_open = lid_open
        self.lid_opens_s: float | None = None
        self.lid_closes_s: float | None = None
        self.lamp: Lamp = "off"
        self.powered = False  # whether relays connect the unit
        self._watchers: list[OnUnsafe] = []
        self.conditions = USUAL
        self.secured_model: str | None = None
        self.serial: str | None = None
        self.unit: SimulatedUnit | None = None
        self.faults: Mapping[str, float] = {}
        self.calibrator: SimulatedCalibrator | None = None
        self._seed = seed
        self._faults_of = faults_of
        self._conditions_of = conditions_of or usual_conditions
        self._batch_ratio = batch_ratio

    def secure(self, serial: str, model: str) -> None:
        """Put a unit on the bench, calibrator put away; FixtureError or RefusedInputError."""
        self.check_closed()
        faults = self._faults(serial)
        conditions = troubled(self._conditions_of(serial), faults)
        self.unit = self._unit(serial, faults, conditions)
        self.conditions = conditions
        self.faults, self.serial, self.secured_model = faults, serial, model
        self.calibrator = None
        self.powered = True

    def await_start(self, stop: threading.Event, on_waiting: Callable[[], None]) -> None:
        """Go on at once: the scan was the start."""

    def lid_closed(self) -> bool:
        """Return whether the lid is closed at this moment."""
        return not self.lid_open

    def check_closed(self) -> None:
        """Raise FixtureError if the lid is open."""
        if self.lid_open:
            raise FixtureError("The fixture lid is open.", "Close it, then scan again.")

    @contextmanager
    def watched(self, on_unsafe: OnUnsafe) -> Iterator[None]:
        """Watch the lid over a sweep; an opening is told as it happens."""
        self._watchers.append(on_unsafe)
        try:
            yield
        finally:
            self._watchers.remove(on_unsafe)

    def open_lid(self) -> None:
        """Open the lid, as a person does: the fixture's own interlock cuts the unit off."""
        self.lid_open = True
        self.powered = False
        for on_unsafe in tuple(self._watchers):
            on_unsafe(opened_in_mid_sweep())

    def move_lid(self, from_s: float, to_s: float) -> None:
        """Let a part of a sweep pass, in which somebody may open and close the lid."""
        if self.lid_opens_s is not None and from_s <= self.lid_opens_s < to_s:
            self.lid_opens_s = None
            self.open_lid()
        if self.lid_closes_s is not None and from_s <= self.lid_closes_s < to_s:
            self.lid_closes_s = None
            self.lid_open = False

    def bias_on_for_s(self) -> float | None:
        """Return how long the bias has been on; None for one that was never off."""
        on_s = self.conditions.bias_on_s
        return on_s if math.isfinite(on_s) else None

    def fall_safe(self) -> None:
        """Cut the unit off."""
        self.powered = False

    def show(self, lamp: Lamp) -> None:
        """Light one lamp."""
        self.lamp = lamp

    def pass_time(self, seconds: float) -> None:
        """Let a bias build up further, so long after the unit was put on the bench."""
        self.conditions = replace(self.conditions, bias_on_s=self.conditions.bias_on_s + seconds)
        if self.serial is not None and math.isfinite(self.conditions.bias_on_s):
            self.unit = self._unit(self.serial, self.faults, self.conditions)

    def turn(self, angle_deg: float) -> None:
        """Turn the unit against the microphone."""
        self.conditions = replace(self.conditions, angle_deg=angle_deg)
        if self.serial is not None:
            self.unit = self._unit(self.serial, self.faults, self.conditions)

    def release(self) -> None:
        """Take the unit off the bench."""
        self.unit, self.serial, self.secured_model, self.faults = None, None, None, {}
        self.calibrator, self.conditions = None, USUAL
        self.powered = False

    def put_calibrator(self, calibrator: SimulatedCalibrator, faults: Mapping[str, float]) -> None:
        """Push a calibrator over its microphone, with faults of the station."""
        self.release()
        self.calibrator, self.faults = calibrator, checked_station_faults(faults)

    def put_resistor(self, resistance_ohm: float, faults: Mapping[str, float]) -> None:
        """Connect a resistor in place of a unit, with faults of the station."""
        self.release()
        self.unit, self.faults = SimulatedResistor(resistance_ohm), checked_station_faults(faults)

    def _unit(
        self, serial: str, faults: Mapping[str, float], conditions: Conditions
    ) -> SimulatedUnit:
        ratio = self._batch_ratio
        labelled = simulated_unit(serial, self._seed, faults, conditions, batch_ratio=ratio)
        if "station_wrong_model" not in faults:
            return labelled
        other = serial_of_another_model(serial, round(faults["station_wrong_model"]))
        return simulated_unit(other, self._seed, {}, conditions, batch_ratio=ratio)

    def _faults(self, serial: str) -> Mapping[str, float]:
        if callable(self._faults_of):
            return self._faults_of(serial)
        return self._faults_of.get(serial, {})


def opened_in_mid_sweep() -> FixtureError:
    """Return what a fixture says when its lid was opened while a sweep played."""
    return FixtureError(
        "The fixture lid was opened while the sweep played.",
        "Close the lid, then scan the unit again.",
    )


def usual_conditions(_serial: str) -> Conditions:
    """Return the usual conditions, whatever the unit."""
    return USUAL


def troubled(conditions: Conditions, faults: Mapping[str, float]) -> Conditions:
    """Return the conditions with those faults of the station that are conditions."""
    return replace(
        conditions,
        temperature_c=faults.get("station_hot_room", conditions.temperature_c),
        bias_on_s=faults.get("station_early_bias", conditions.bias_on_s),
    )
