from __future__ import annotations

import numpy as np
import pytest

from station.simulation.physics.defects import Buzz, Leak, Motion, Rub
from station.simulation.physics.grid import TimeGrid

RATE_HZ = 96000.0
GRID = TimeGrid(48000, RATE_HZ)
LOUD_M = 2e-3
# 66 dB SPL peak = 20 µPa · 10^3.3 = 39.9 mPa
PEAK_PA = 39.9e-3


def moving(frequency_hz: float, peak_m: float) -> Motion:
    time_s = np.arange(48000) / RATE_HZ
    fade = np.sin(np.pi * np.arange(48000) / 48000) ** 0.5
    return Motion(GRID.spectrum(peak_m * fade * np.sin(2 * np.pi * frequency_hz * time_s)), GRID)


def test_rub_peaks_at_its_severity_when_driven_hard() -> None:
    scrape = Rub(66.0, LOUD_M).pressure_pa(moving(40.0, LOUD_M), np.random.default_rng(1))
    assert np.max(np.abs(scrape)) == pytest.approx(PEAK_PA, rel=0.01)


def test_rub_is_silent_below_its_excursion() -> None:
    scrape = Rub(66.0, LOUD_M).pressure_pa(moving(40.0, 0.4 * LOUD_M), np.random.default_rng(1))
    assert not scrape.any()


def test_rub_sounds_only_while_the_coil_is_far_out_and_several_times_a_cycle() -> None:
    motion = moving(20.0, LOUD_M)
    scrape = np.abs(Rub(66.0, LOUD_M).pressure_pa(motion, np.random.default_rng(1)))
    far_out = np.abs(GRID.signal(motion.excursion_m)) > 0.45 * LOUD_M
    ringing = np.convolve(far_out, np.ones(300), "full")[: far_out.size] > 0  # 3 ms of decay
    assert scrape[~ringing].max() < 1e-6 * PEAK_PA
    cycle = scrape[22 * 1000 : 22 * 1000 + 4800]
    rising = np.diff((cycle > 0.1 * PEAK_PA).astype(int)) > 0
    assert np.count_nonzero(rising) >= 4


def test_buzz_strikes_once_a_cycle_near_its_resonance_and_not_elsewhere() -> None:
    def strikes(frequency_hz: float) -> int:
        peak_m = 300.0 / (2 * np.pi * frequency_hz) ** 2  # 300 m/s² at every frequency
        buzz = Buzz(66.0, 75.0, 280.0)
        rattle = buzz.pressure_pa(moving(frequency_hz, peak_m), np.random.default_rng(1))
        # a rattle ends within 6.4 ms, a cycle of 75 Hz lasts 13.3 ms
        heard = np.convolve(np.abs(rattle) > 1e-6 * PEAK_PA, np.ones(200))[: rattle.size] > 0.5
        return int(np.count_nonzero(np.diff(heard.astype(int)) > 0))

    # half a second holds 37 cycles of 75 Hz; the fades at both ends stay below the threshold
    assert 25 <= strikes(75.0) <= 37
    assert strikes(38.0) == 0
    assert strikes(150.0) == 0


def test_leak_hisses_with_the_box_pressure() -> None:
    leak = Leak(66.0, LOUD_M)
    loud = leak.pressure_pa(moving(40.0, LOUD_M), np.random.default_rng(1))
    soft = leak.pressure_pa(moving(40.0, LOUD_M / 4.0), np.random.default_rng(1))
    assert np.max(np.abs(loud)) == pytest.approx(PEAK_PA, rel=0.02)
    # grows with the 1.5th power: a quarter of the motion is an eighth of the hiss
    assert np.std(soft) / np.std(loud) == pytest.approx(0.125, rel=1e-6)


def test_a_still_cone_makes_no_sound() -> None:
    for defect in (Rub(66.0, LOUD_M), Buzz(66.0, 210.0, 280.0), Leak(66.0, LOUD_M)):
        assert not defect.pressure_pa(moving(40.0, 0.0), np.random.default_rng(1)).any()
