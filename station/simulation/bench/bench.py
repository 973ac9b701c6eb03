"""The simulated station: its audio interface, with whatever the fixture holds behind it."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from station.errors import AudioError, stopped
from station.hardware.files.microphonefile import MicrophoneCorrection
from station.hardware.files.stationfile import StationFile
from station.hardware.protocols.audio import Capture, Meter, MeterCallback
from station.hardware.protocols.clock import Clock
from station.simulation.arrays import FloatArray
from station.simulation.bench.capsule import through_capsule
from station.simulation.bench.chain import Chain, channels_of
from station.simulation.bench.converter import captured, delayed, lost_samples, stretched
from station.simulation.bench.fixture import ConditionsOf, FaultsOf, SimulatedFixture
from station.simulation.bench.looseness import looseness_of
from station.simulation.bench.wentout import Samples, went_out
from station.simulation.faults import station_faults
from station.simulation.physics.air import air_at
from station.simulation.physics.grid import TimeGrid

AMPLIFIER_OHM, CABLE_OHM, CABLE_H = 0.05, 0.04, 0.8e-6
AMPLIFIER_PEAK_V = 24.0
AMBIENT_DB_SPL = 45.0
METERS_WHEN_UNPACED = 8
METER_S = 0.05


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
        self._halt = threading.Event()
        self.went_out: Samples = np.zeros(0, dtype=np.float32)
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
        self._halt.clear()
        if stop.is_set():  # looked at after the flag was cleared, or a wish could be lost between
            raise stopped()
        started_s = self._clock.monotonic_s()
        self._play(output)
        on_meter(Meter(0.0, (0.0,) * len(self._station.inputs)))
        samples = self._recorded(output)
        self._fixture.pass_time(output.size / self.rate_hz)
        self._deliver(samples, started_s, on_meter, stop)
        return Capture(samples)

    def silence(self) -> None:
        """Silence the output: the next block ends in silence, by a ramp."""
        self._halt.set()

    def close(self) -> None:
        """Give the device back."""
        self._open = False

    def _play(self, output: FloatArray) -> None:
        """Hand out the blocks where somebody opens the lid meanwhile; raise StoppedError if cut."""
        if self._fixture.lid_opens_s is None:
            return
        out = went_out(
            output,
            self.rate_hz,
            self._station.audio.block_frames,
            halted=self._halt.is_set,
            pass_time=self._fixture.move_lid,
        )
        self.went_out = out.samples
        if out.cut_short:
            raise stopped()

    def _recorded(self, output: FloatArray) -> FloatArray:
        serial = self._fixture.serial or ""
        run = self._runs.get(serial, 0)
        faults = happening(station_faults(self._fixture.faults), run)
        self._runs[serial] = run + 1
        noise = np.random.default_rng(run_seed(self._seed, serial, run))
        # a fault changes no other noise
        room_noise, unit_noise, converter_noise, fixture_noise = noise.spawn(4)
        played = np.clip(output, -1.0, 1.0) * self._station.audio.output_full_scale_v
        drive_v = stretched(delayed(np.pad(played, (0, lost_samples(faults)))), faults)
        signals = channels_of(
            [channel.role for channel in self._station.inputs],
            self._fixture.unit,
            drive_v,
            loosened(self._chain, faults, fixture_noise),
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
            if stop.is_set() or self._halt.is_set():
                raise stopped()
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


def loosened(chain: Chain, faults: Mapping[str, float], rng: Generator) -> Chain:
    """Return the chain as the fixture lets it be in this run."""
    if "station_loose_fixture" not in faults:
        return chain
    return replace(chain, loose=looseness_of(faults["station_loose_fixture"], rng))


def happening(faults: Mapping[str, float], run: int) -> dict[str, float]:
    """Return the station's faults in one run of a unit, counted from 0: a bang comes only once."""
    return {name: s for name, s in faults.items() if name != "station_bang" or run == 0}


def run_seed(seed: int, serial: str, run: int) -> int:
    """Return the seed of one run's noise."""
    return int.from_bytes(hashlib.sha256(f"{seed}/{serial}/run {run}".encode()).digest()[:16])
