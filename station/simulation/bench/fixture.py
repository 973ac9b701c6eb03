"""The simulated fixture: which unit stands on the bench, under which conditions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from station.errors import FixtureError
from station.simulation.bench.calibrator import SimulatedCalibrator, SimulatedResistor
from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import checked_station_faults
from station.simulation.physics.speaker import SimulatedUnit
from station.simulation.products.units import serial_of_another_model, simulated_unit

FaultsOf = Callable[[str], Mapping[str, float]] | Mapping[str, Mapping[str, float]]
ConditionsOf = Callable[[str], Conditions]  # of a serial number, when it is put on the bench


class SimulatedFixture:
    """Puts the simulated unit with the scanned serial number on the bench."""

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
        if self.lid_open:
            raise FixtureError("The fixture lid is open.", "Close it, then scan again.")
        faults = self._faults(serial)
        conditions = troubled(self._conditions_of(serial), faults)
        self.unit = self._unit(serial, faults, conditions)
        self.conditions = conditions
        self.faults, self.serial, self.secured_model = faults, serial, model
        self.calibrator = None

    def lid_closed(self) -> bool:
        """Return whether the lid is closed at this moment."""
        return not self.lid_open

    def pass_time(self, seconds: float) -> None:
        """Let a bias build up further, so long after the unit was put on the bench."""
        self.conditions = replace(self.conditions, bias_on_s=self.conditions.bias_on_s + seconds)
        if self.serial is not None and math.isfinite(self.conditions.bias_on_s):
            self.unit = self._unit(self.serial, self.faults, self.conditions)

    def release(self) -> None:
        """Take the unit off the bench."""
        self.unit, self.serial, self.secured_model, self.faults = None, None, None, {}
        self.calibrator, self.conditions = None, USUAL

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
