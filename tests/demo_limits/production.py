"""The simulated good units that the demo limits are learned from."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from station.analysis.measure import Measured, measure
from station.analysis.plan import Reference
from station.analysis.recording import Recording
from station.analysis.signals.sweep import sweep_voltage
from station.cycle.bench.bench import recording_of
from station.hardware.protocols.clock import SystemClock
from station.judging.files.planning import plan_of, sweep_of
from station.judging.tables.tables import LimitFile
from station.quality.learning.reference import reference_from, typical_unit
from station.records.columns.columns import columns_of
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.conditions import Conditions

SEED = 2026
CANDIDATES = 24  # of which one becomes the reference unit
FROM_C, TO_C = 18.5, 22.5  # a hall in the morning and in the afternoon
GOLDEN = 0.6180339887  # its multiples fill a range evenly, however many there are


@dataclass(frozen=True, slots=True, eq=False)
class Production:
    """Good units as they were measured, and the one that the others are compared with."""

    serials: tuple[str, ...]
    measured: tuple[Measured, ...]
    reference: Reference
    reference_serial: str

    def curves(self, reading: str) -> np.ndarray:
        """Return one curve of all units, shape (units, n)."""
        return np.array([unit.readings.curves[reading].values for unit in self.measured])

    def numbers(self, reading: str) -> np.ndarray:
        """Return one number of all units, shape (units, 1)."""
        return np.array([[unit.readings.numbers[reading].value] for unit in self.measured])


def produced(prefix: str, limits: LimitFile, units: int) -> Production:
    """Return good units measured as a limit file asks, each at the hall's temperature then.

    The reference is the one of the first whose response lies closest to their median.
    """
    serials = tuple(f"{prefix}{number:05d}" for number in range(units))
    plan = plan_of(limits)
    candidates = list(recordings(serials[:CANDIDATES], limits))
    read = [measure(recording, plan).readings for recording in candidates]
    closest = typical_unit(columns_of(read))
    reference = reference_from(candidates[closest], limits)
    plan = replace(plan, reference=reference)
    measured = tuple(measure(recording, plan) for recording in recordings(serials, limits))
    for serial, unit in zip(serials, measured, strict=True):
        if unit.integrity or unit.readings.missing:
            raise SystemExit(f"{serial}: {unit.integrity} {unit.readings.missing}")
    return Production(serials, measured, reference, serials[closest])


def recordings(serials: tuple[str, ...], limits: LimitFile) -> Iterator[Recording]:
    """Yield one recording of each unit."""
    station, _ = simulated_station()
    bench = SimulatedBench(
        station, seed=SEED, faults_of={}, paced=False, clock=SystemClock(),
        conditions_of=in_the_hall,
    )  # fmt: skip
    sweep = sweep_of(limits)
    output = sweep_voltage(sweep) / station.audio.output_full_scale_v
    for serial in serials:
        bench.fixture.secure(serial, limits.model.name)
        capture = bench.audio.play_and_record(
            output, on_meter=lambda _: None, stop=threading.Event()
        )
        yield recording_of(capture, station, sweep)


def in_the_hall(serial: str) -> Conditions:
    """Return the temperature at which a unit happens to be tested."""
    share = (int(serial[-5:]) * GOLDEN) % 1.0
    return Conditions(temperature_c=FROM_C + share * (TO_C - FROM_C))
