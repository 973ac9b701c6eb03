"""A shift on a simulated line: which units arrive, what is wrong with them and with the station.

Everything is a pure function of seed, day and place, so that a shift can be played again.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass

from station.simulation.faults import FAULTS, STATION_PREFIX, Fault, fault_of
from station.simulation.products.units import MODELS, SimulatedModel, model_of

LOT_UNITS = 10  # of one model, before another one's turn
FIRST_NUMBER = 1000  # of a line; a day takes as many numbers of every model as it can need
DAY_NUMBERS = 500
LAST_NUMBER = 99999
REFERENCE_NUMBER = 0  # the kept unit of every model

START_C, WARMS_K, WARMING_S = 19.5, 2.5, 7200.0  # a hall in the morning and during the day
SWINGS_K, SWING_S = 0.4, 2400.0  # its heating, or a door

LEVEL_AROUND_DB = 6.0  # how much louder or softer than usual a fault's noise is
RATIO_FROM, RATIO_TO = 0.7, 1.6  # of the usual severity of other faults
BANG_FROM_DB_SPL, BANG_TO_DB_SPL = 78.0, 95.0

TROUBLES = (
    "station_silent_microphone",
    "station_lost_samples",
    "station_nan_samples",
    "station_clipped_input",
    "station_loud_room",
    "station_loose_fixture",
    "station_early_bias",
)


@dataclass(frozen=True, slots=True)
class Rates:
    """How often what happens, as a share of the units that arrive."""

    faulty_ratio: float = 0.025
    trouble_ratio: float = 0.01
    bang_ratio: float = 0.03
    mended_ratio: float = 0.9  # of the repairs that look at the right part
    reference_every: int = 60
    unit_s: float = 70.0  # from one scan to the next


@dataclass(frozen=True, slots=True)
class Shift:
    """One day on the line."""

    seed: int
    day: int = 0
    rates: Rates = Rates()

    def serial_at(self, place: int) -> str:
        """Return the serial number of the unit that arrives at a place, counted from 0."""
        every = self.rates.reference_every
        produced = place - 1 - place // every  # reference units at 0, every, 2·every, ...
        if place % every == 0:
            return f"{self._model_of_lot((produced + 1) // LOT_UNITS).prefix}{REFERENCE_NUMBER:05d}"
        lot = produced // LOT_UNITS
        model = self._model_of_lot(lot)
        lots_before = sum(self._model_of_lot(earlier) is model for earlier in range(lot))
        number = LOT_UNITS * lots_before + produced % LOT_UNITS
        return f"{model.prefix}{self._first_number + number:05d}"

    def faults_of(self, serial: str) -> Mapping[str, float]:
        """Return what is wrong with a unit when it comes off the line: mostly nothing."""
        if self._chance(serial, "faulty") >= self.rates.faulty_ratio or is_reference(serial):
            return {}
        model = model_of(serial).name
        possible = [
            fault
            for fault in FAULTS
            if model in fault.models and not fault.name.startswith(STATION_PREFIX)
        ]
        fault = possible[int(self._chance(serial, "which") * len(possible))]
        return {fault.name: severity_of(fault, self._chance(serial, "severity"))}

    def trouble_at(self, place: int) -> Mapping[str, float]:
        """Return the trouble of the station that begins when a unit arrives: mostly none."""
        if place == 0 or self._chance(f"place {place}", "trouble") >= self.rates.trouble_ratio:
            return {}
        name = TROUBLES[int(self._chance(f"place {place}", "which") * len(TROUBLES))]
        return {name: fault_of(name).default}

    def bang_at(self, scan: int) -> Mapping[str, float]:
        """Return the bang in the hall during a scan: mostly none."""
        if self._chance(f"scan {scan}", "bang") >= self.rates.bang_ratio:
            return {}
        span_db = BANG_TO_DB_SPL - BANG_FROM_DB_SPL
        return {"station_bang": BANG_FROM_DB_SPL + span_db * self._chance(f"scan {scan}", "level")}

    def mends(self, serial: str, repairs: int) -> bool:
        """Return whether a repair at the right part succeeds; `repairs` came before it."""
        return self._chance(serial, f"repair {repairs}") < self.rates.mended_ratio

    def temperature_c(self, scans: int) -> float:
        """Return how warm the hall is after so many scans."""
        time_s = scans * self.rates.unit_s
        warmed_k = WARMS_K * -math.expm1(-time_s / WARMING_S)
        turn = 2.0 * math.pi * (time_s / SWING_S + self._chance("hall", "phase"))
        return START_C + warmed_k + SWINGS_K * math.sin(turn)

    @property
    def _first_number(self) -> int:
        days = (LAST_NUMBER - FIRST_NUMBER) // DAY_NUMBERS
        return FIRST_NUMBER + DAY_NUMBERS * (self.day % days)

    def _model_of_lot(self, lot: int) -> SimulatedModel:
        return MODELS[int(self._chance(f"lot {lot}", "model") * len(MODELS))]

    def _chance(self, what: str, name: str) -> float:
        """Return a number from 0 to 1, 1 excluded, that belongs to a name on this day."""
        text = f"{self.seed}/day {self.day}/{what}/{name}"
        return int.from_bytes(hashlib.sha256(text.encode()).digest()[:6]) / 256.0**6


def is_reference(serial: str) -> bool:
    """Return whether a serial number is that of a model's reference unit."""
    model = model_of(serial)
    return serial == f"{model.prefix}{REFERENCE_NUMBER:05d}"


def severity_of(fault: Fault, chance: float) -> float:
    """Return a severity around a fault's usual one."""
    if fault.counted:
        return fault.lowest + math.floor(chance * (fault.highest - fault.lowest + 1.0))
    if fault.unit.startswith("dB"):
        return fault.default + LEVEL_AROUND_DB * (2.0 * chance - 1.0)
    return fault.default * (RATIO_FROM + (RATIO_TO - RATIO_FROM) * chance)
