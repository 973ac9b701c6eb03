"""All readings of one run against four bare transforms, and against another library."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np
import pyfar
import pytest
import scipy.fft
from pytest_benchmark.fixture import BenchmarkFixture

from station.analysis.measure import Measured, measure
from station.analysis.plan import ClosedBoxPlan, DriverPlan, FilterPlan, IdleNoisePlan
from station.analysis.recording import Recording, Role
from station.analysis.signals.sweep import Sweep
from station.analysis.statistics.uncertainty import Estimate
from tests.analysis.closedforms import recording_of
from tests.analysis.goodunit import PLAN, good_signals

# Two-second sweeps at 96 kHz. The first makes 2.5 s of a length that transforms fast, so that the
# bare transforms get no handicap; the second is as long as round numbers in a limit file make it.
SWEEPS = {
    240_000: Sweep(15.0, 19.0, 44e3, 2.0, 2.83, 0.25, 11_612 / 96e3, 96e3),
    252_388: Sweep(15.0, 19.0, 44e3, 2.0, 2.83, 0.25, 0.25, 96e3),
}
ROUNDS = 30
# All readings that one unit can have. Only the panel is missing, since here a driver stands at the
# terminals: its fit is timed in bench_fits.py, a millisecond and a half.
WHOLE_PLAN = replace(
    PLAN,
    response=replace(PLAN.response, from_hz=22.4),
    driver=DriverPlan(25.0, 5000.0),
    closed_box=ClosedBoxPlan(Estimate(40.0, 0.2), Estimate(0.7, 0.005)),
    idle_noise=IdleNoisePlan(8),
    filter=FilterPlan("high-pass", 300.0, 3000.0, 23.0, 32.0),
)
MOST_TRANSFORMS_RATIO = 8.0

Act = Callable[[Recording], object]
pytestmark = pytest.mark.filterwarnings(r"ignore:(.|\n)*will be deprecated")


@pytest.fixture(scope="module", params=list(SWEEPS))
def recording(request: pytest.FixtureRequest) -> Recording:
    sweep = SWEEPS[request.param]
    made = recording_of(sweep, good_signals(sweep))
    assert made.samples.shape == (4, request.param)
    measured = measure(made, WHOLE_PLAN)  # also fills what is kept from run to run
    assert measured.integrity == ()
    assert not measured.readings.missing
    return made


def four_transforms(recording: Recording) -> list[np.ndarray]:
    return [scipy.fft.rfft(channel) for channel in recording.samples]


def deconvolution(recording: Recording, *roles: Role) -> np.ndarray:
    """Return impulse responses from the voltage to some channels, by pyfar."""
    rows = [recording.full_scale_samples(role) for role in roles]
    voltage = pyfar.Signal(recording.full_scale_samples("voltage"), recording.rate_hz)
    response = pyfar.dsp.deconvolve(
        pyfar.Signal(rows, recording.rate_hz), voltage, frequency_range=(20.0, 40e3)
    )
    return response.time


def pyfar_one_pair(recording: Recording) -> np.ndarray:
    return deconvolution(recording, "microphone")


def pyfar_all_pairs(recording: Recording) -> np.ndarray:
    return deconvolution(recording, "microphone", "current", "ambient")


def all_readings(recording: Recording) -> Measured:
    return measure(recording, WHOLE_PLAN)


ACTS = (four_transforms, pyfar_one_pair, pyfar_all_pairs, all_readings)


@pytest.mark.parametrize("act", ACTS)
def test_one_run(benchmark: BenchmarkFixture, recording: Recording, act: Act) -> None:
    benchmark.group = f"{recording.n_samples} samples in each of four channels"
    benchmark.pedantic(act, (recording,), rounds=ROUNDS, warmup_rounds=2)


def test_cost_of_all_readings(recording: Recording) -> None:
    times_s: dict[str, list[float]] = {act.__name__: [] for act in ACTS}
    for _ in range(ROUNDS):  # in turn, so that what else the computer does strikes all alike
        for act in ACTS:
            start_s = time.perf_counter()
            act(recording)
            times_s[act.__name__].append(time.perf_counter() - start_s)
    middle_s = {name: median(taken_s) for name, taken_s in times_s.items()}
    print(f"\n{recording.n_samples} samples{'median ms':>14}{'least ms':>10}{'x transforms':>14}")
    for name, taken_s in times_s.items():
        ratio = middle_s[name] / middle_s["four_transforms"]
        print(f"{name:<18}{1e3 * middle_s[name]:>10.2f}{1e3 * min(taken_s):>10.2f}{ratio:>14.2f}")
    assert middle_s["all_readings"] < MOST_TRANSFORMS_RATIO * middle_s["four_transforms"]
    if recording.n_samples != 240_000:  # pyfar does not pad, which pays at lucky lengths alone
        assert middle_s["all_readings"] < middle_s["pyfar_one_pair"]
