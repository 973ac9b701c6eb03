"""What a simulated and judged unit costs, in bare transforms and in units a second."""

from __future__ import annotations

import threading
import time
from statistics import median

import numpy as np
import pytest
import scipy.fft

from station.analysis.measure import measure
from station.analysis.signals.sweep import sweep_voltage
from station.cycle.bench.bench import recording_of
from station.hardware.protocols.audio import Capture
from station.hardware.protocols.clock import SystemClock
from station.judging.files.planning import plan_of, sweep_of
from station.judging.files.shelf import limit_shelf
from station.judging.verdicts.judge import judge
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import LIMITS

ROUNDS = 9


@pytest.mark.parametrize("prefix", ["T2A", "F6A", "S12A"])
def test_cost_of_a_simulated_unit(prefix: str) -> None:
    station, _ = simulated_station()
    limits = limit_shelf(LIMITS).for_serial(f"{prefix}00901").limits
    sweep, plan = sweep_of(limits), plan_of(limits)
    output = sweep_voltage(sweep) / station.audio.output_full_scale_v
    noise = np.random.default_rng(1).standard_normal((len(station.inputs), output.size))
    bench = SimulatedBench(station, seed=7, faults_of={}, paced=False, clock=SystemClock())

    def simulated(number: int) -> Capture:
        bench.fixture.secure(f"{prefix}{901 + number:05d}", limits.model.name)
        return bench.audio.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())

    times_s: dict[str, list[float]] = {"four transforms": [], "simulated": [], "judged": []}
    for number in range(ROUNDS + 1):
        marks = [time.process_time()]
        for row in noise:
            scipy.fft.rfft(row)
        marks.append(time.process_time())
        capture = simulated(number)
        marks.append(time.process_time())
        judge(measure(recording_of(capture, station, sweep), plan), limits)
        marks.append(time.process_time())
        if number:  # the first fills what is kept from run to run
            for taken_s, spent_s in zip(times_s.values(), np.diff(marks), strict=True):
                taken_s.append(float(spent_s))
    middle_s = {name: median(taken_s) for name, taken_s in times_s.items()}
    floor_s = middle_s["four transforms"]
    whole_s = middle_s["simulated"] + middle_s["judged"]
    parts = ", ".join(f"{name} {1e3 * value:.0f} ms" for name, value in middle_s.items())
    print(f"\n{limits.model.name}: {parts} of CPU;")
    print(f"  {1.0 / whole_s:.2f} units a second and core, {whole_s / floor_s:.1f} x transforms")
