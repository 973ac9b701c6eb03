"""Saves what some units sound like: `python -m tests.simulation.fingerprint` renews the file.

A unit that exists never changes: limits, studies and stored runs were made with it. So renewing
is right only for a wanted change, which then needs the limit files made anew.
"""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np

from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.simulation.fakes import FakeClock

FILE = Path(__file__).parent / "fingerprint.csv"
SERIALS = ("T2A00001", "F6A00001", "S12A00001")
SEED = 7
EVERY = 997  # samples
STEPS = 2**23
N = 48000


def stimulus(full_scale_v: float) -> np.ndarray:
    """Return an exponential sweep of 1 V RMS, without any code of ours."""
    time_s = np.arange(N) / 96000.0
    rate_s = 0.45 / np.log(2000.0)
    phase = 2 * np.pi * 20.0 * rate_s * (np.exp(time_s / rate_s) - 1.0)
    fade = np.clip(np.minimum(time_s / 0.02, (0.45 - time_s) / 0.01), 0.0, 1.0)
    return np.asarray(np.sqrt(2.0) / full_scale_v * fade * np.sin(phase))


def fingerprint(serial: str) -> np.ndarray:
    """Return some samples of a unit's first run, in steps of 24 bits, input after input."""
    station, _ = simulated_station()
    bench = SimulatedBench(station, seed=SEED, faults_of={}, paced=False, clock=FakeClock())
    bench.fixture.secure(serial, "any")
    output = stimulus(station.audio.output_full_scale_v)
    capture = bench.audio.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())
    return np.rint(capture.samples[:, ::EVERY].ravel() * STEPS).astype(np.int64)


if __name__ == "__main__":
    table = np.stack([fingerprint(serial) for serial in SERIALS], axis=1)
    np.savetxt(FILE, table, "%d", ",", header=",".join(SERIALS), comments="")
