"""The simulated station's devices: an audio interface with a unit behind it, and the fixture."""

from __future__ import annotations

import hashlib
import math
import threading
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from station.errors import AudioError, FixtureError, StoppedError
from station.hardware.audio import Capture, Meter, MeterCallback
from station.hardware.clock import Clock
from station.hardware.microphonefile import MicrophoneCorrection
from station.hardware.stationfile import StationFile
from station.simulation.air import air_at
from station.simulation.arrays import FloatArray
from station.simulation.calibrator import SimulatedCalibrator, SimulatedResistor
from station.simulation.capsule import through_capsule
from station.simulation.chain import Chain, channels_of
from station.simulation.conditions import USUAL, Conditions
from station.simulation.converter import captured, delayed, lost_samples
from station.simulation.faults import checked_station_faults, station_faults
from station.simulation.grid import TimeGrid
from station.simulation.speaker import SimulatedUnit
from station.simulation.units import simulated_unit

FaultsOf = Callable[[str], Mapping[str, float]] | Mapping[str, Mapping[str, float]]
ConditionsOf = Callable[[str], Conditions]  # of a serial number, when it is put on the bench

AMPLIFIER_OHM, CABLE_OHM, CABLE_H = 0.05, 0.04, 0.8e-6
AMPLIFIER_PEAK_V = 24.0
AMBIENT_DB_SPL = 45.0
METERS_WHEN_UNPACED = 8
METER_S = 0.05


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
        return simulated_unit(serial, self._seed, faults, conditions, batch_ratio=self._batch_ratio)

    def _faults(self, serial: str) -> Mapping[str, float]:
        if callable(self._faults_of):
            return self._faults_of(serial)
        return self._faults_of.get(serial, {})


class SimulatedAudio:
    """Plays into whatever the fixture holds, and records it."""

    def __init__(
        self,
        station: StationFile,
        fixture: SimulatedFixture,
        chain: Chain,
        *,
        seed: int,
        clock: Clock,
        paced: bool,
        correction: MicrophoneCorrection | None,
    ) -> None:
        self._correction = correction
        self._station = station
        self._fixture = fixture
        self._chain = chain
        self._seed = seed
        self._clock = clock
        self._paced = paced
        self._runs: dict[str, int] = {}
        self._open = True

    @property
    def rate_hz(self) -> float:
        """Sampling rate in Hz."""
        return self._station.audio.rate_hz

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        """Return what the inputs deliver; raise AudioError after close, StoppedError on stop."""
        if output.ndim != 1 or not np.isfinite(output).all():
            raise ValueError(f"need finite samples of shape (n,); got shape {output.shape}")
        if not self._open:
            raise AudioError("The simulated audio device is closed.", "Start the station again.")
        started_s = self._clock.monotonic_s()
        on_meter(Meter(0.0, (0.0,) * len(self._station.inputs)))
        samples = self._recorded(output)
        self._fixture.pass_time(output.size / self.rate_hz)
        self._deliver(samples, started_s, on_meter, stop)
        return Capture(samples)

    def close(self) -> None:
        """Give the device back."""
        self._open = False

    def _recorded(self, output: FloatArray) -> FloatArray:
        serial = self._fixture.serial or ""
        run = self._runs.get(serial, 0)
        faults = happening(station_faults(self._fixture.faults), run)
        self._runs[serial] = run + 1
        noise = np.random.default_rng(run_seed(self._seed, serial, run))
        room_noise, unit_noise, converter_noise = noise.spawn(3)  # a fault changes no other noise
        played = np.clip(output, -1.0, 1.0) * self._station.audio.output_full_scale_v
        drive_v = delayed(np.pad(played, (0, lost_samples(faults))))
        signals = channels_of(
            [channel.role for channel in self._station.inputs],
            self._fixture.unit,
            drive_v,
            self._chain,
            air_at(self._fixture.conditions.temperature_c),
            self.rate_hz,
            faults,
            room_noise,
            unit_noise,
        )
        if (calibrator := self._fixture.calibrator) is not None:
            signals[calibrator.role] = calibrator.heard_pa(
                drive_v.size, self.rate_hz, faults, unit_noise
            )
        grid = TimeGrid(drive_v.size, self.rate_hz)
        signals["microphone"] = through_capsule(signals["microphone"], self._correction, grid)
        return captured(signals, output.size, self._station, faults, converter_noise)

    def _deliver(
        self, samples: FloatArray, started_s: float, on_meter: MeterCallback, stop: threading.Event
    ) -> None:
        n_samples = samples.shape[1]
        blocks = METERS_WHEN_UNPACED
        if self._paced:
            blocks = max(1, round(n_samples / self.rate_hz / METER_S))
        ends = [n_samples * (number + 1) // blocks for number in range(blocks)]
        begin = 0
        for end in ends:
            due_s = started_s + end / self.rate_hz
            if self._paced and (left_s := due_s - self._clock.monotonic_s()) > 0.0:
                self._clock.wait(left_s)
            if stop.is_set():
                raise StoppedError("The run was stopped.", "Scan the unit again to test it.")
            peaks = np.max(np.abs(samples[:, begin:end]), axis=1, initial=0.0)
            on_meter(Meter(end / n_samples, tuple(float(peak) for peak in peaks)))
            begin = end


class SimulatedBench:
    """One simulated station: its audio device and its fixture, which share the unit."""

    def __init__(
        self,
        station: StationFile,
        *,
        seed: int,
        faults_of: FaultsOf,
        paced: bool,
        clock: Clock,
        ambient_db_spl: float = AMBIENT_DB_SPL,
        reflections: bool = True,
        lid_open: bool = False,
        correction: MicrophoneCorrection | None = None,
        conditions_of: ConditionsOf | None = None,
        batch_ratio: float = 0.0,
    ) -> None:
        chain = Chain(
            distance_m=station.microphone_distance_m,
            ambient_db_spl=ambient_db_spl,
            reflections=reflections,
            amplifier_ohm=AMPLIFIER_OHM,
            cable_ohm=CABLE_OHM,
            cable_h=CABLE_H,
            amplifier_peak_v=AMPLIFIER_PEAK_V,
        )
        self.fixture = SimulatedFixture(
            seed=seed,
            faults_of=faults_of,
            lid_open=lid_open,
            conditions_of=conditions_of,
            batch_ratio=batch_ratio,
        )
        self.audio = SimulatedAudio(
            station,
            self.fixture,
            chain,
            seed=seed,
            clock=clock,
            paced=paced,
            correction=correction,
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


def happening(faults: Mapping[str, float], run: int) -> dict[str, float]:
    """Return the station's faults in one run of a unit, counted from 0: a bang comes only once."""
    return {name: s for name, s in faults.items() if name != "station_bang" or run == 0}


def run_seed(seed: int, serial: str, run: int) -> int:
    """Return the seed of one run's noise."""
    return int.from_bytes(hashlib.sha256(f"{seed}/{serial}/run {run}".encode()).digest()[:16])
