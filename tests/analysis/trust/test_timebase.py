"""Two clocks are told by how the sweep is stretched, and told apart from lost samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.measure import measure
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep
from station.analysis.trust.timebase import time_base
from tests.analysis.closedforms import SWEEP
from tests.analysis.goodunit import PLAN, good_recording, without_samples

ALLOWED = replace(PLAN, integrity=replace(PLAN.integrity, clock_ppm=25.0))


def on_two_clocks(drift_ppm: float) -> Recording:
    """Return a good recording whose voltage is the sweep's own formula on a faster clock.

    The formula is Novak 2015, eq. 9, written out here: x(t) = sin(2 pi f1 L (exp(t / L) - 1)).
    """
    faster = 1.0 + 1e-6 * drift_ppm
    time_s = np.arange(SWEEP.n_samples) / SWEEP.rate_hz * faster - SWEEP.lead_in_s - 0.01
    inside = (time_s >= 0.0) & (time_s <= SWEEP.duration_s)
    turns = SWEEP.start_hz * SWEEP.rate_s * np.expm1(np.where(inside, time_s, 0.0) / SWEEP.rate_s)
    volts = np.sqrt(2.0) * SWEEP.level_v * np.sin(2.0 * np.pi * turns) * inside
    return good_recording(voltage=volts)


def kinds_of(recording: Recording) -> list[str]:
    return [fault.kind for fault in measure(recording, ALLOWED).integrity]


@pytest.mark.parametrize("drift_ppm", [-200.0, -40.0, 0.0, 5.0, 100.0])
def test_the_drift_is_read_to_a_part_in_a_million(drift_ppm: float) -> None:
    found = time_base(spectra_of(on_two_clocks(drift_ppm)))
    assert 1e6 * found.drift_ratio == pytest.approx(drift_ppm, abs=1.0)


def test_one_clock_is_no_fault_and_two_are_one() -> None:
    assert "clock" not in kinds_of(good_recording())
    (fault,) = (f for f in measure(on_two_clocks(60.0), ALLOWED).integrity if f.kind == "clock")
    assert fault.detail["found"].value == pytest.approx(60.0, abs=1.0)
    assert fault.detail["allowed"].value == 25.0


def test_nobody_looks_where_the_limit_file_does_not_ask() -> None:
    assert "clock" not in [fault.kind for fault in measure(on_two_clocks(60.0), PLAN).integrity]


@pytest.mark.parametrize("at_hz", [200.0, 1000.0, 5000.0, 9000.0, 12e3, 30e3])
@pytest.mark.parametrize("count", [8, 100])
def test_lost_samples_are_not_taken_for_two_clocks(at_hz: float, count: int) -> None:
    assert kinds_of(without_samples(good_recording(), at_hz, count)) == ["samples_lost"]


def test_a_sweep_that_ends_too_low_cannot_be_timed() -> None:
    low = Sweep(15.0, 19.0, 1500.0, 1.0, 1.0, 0.25, 0.35, SWEEP.rate_hz)
    with pytest.raises(ValueError, match="too low to time it"):
        time_base(spectra_of(replace(good_recording(), sweep=low)))
