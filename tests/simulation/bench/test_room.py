from __future__ import annotations

import numpy as np
import pytest

from station.simulation.bench.room import ambient_path, bang_pa, path, room_noise
from station.simulation.physics.grid import TimeGrid

GRID = TimeGrid(96000, 96000.0)


def noise(level_db_spl: float) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(4)
    return room_noise(["microphone", "ambient"], level_db_spl, GRID, rng)


def test_ambient_noise_has_the_stated_level_at_every_microphone() -> None:
    for heard in noise(45.0).values():
        level_db_spl = 20 * np.log10(np.std(heard) / 20e-6)
        # few independent values in the low octaves of one second: 1 dB
        assert level_db_spl == pytest.approx(45.0, abs=1.0)


def test_ambient_noise_is_pink() -> None:
    power = np.abs(np.fft.rfft(noise(45.0)["microphone"])) ** 2
    octaves = [np.sum(power[f : 2 * f]) for f in (125, 250, 500, 1000, 2000, 4000, 8000)]
    levels = 10 * np.log10(octaves)
    assert np.ptp(levels) < 1.5  # equal power per octave; 125 bins vary by 0.4 dB


def test_microphones_hear_partly_the_same_noise() -> None:
    pair = noise(45.0)
    lag = round(1.5e-3 * 96000)
    alike = np.corrcoef(pair["microphone"][:-lag], pair["ambient"][lag:])[0, 1]
    assert 0.1 < alike < 0.5  # half the pressure is a quarter of the power


def test_sound_arrives_after_its_flight_weaker_with_distance() -> None:
    impulse = np.zeros(96000)
    impulse[100] = 1.0
    way = path(GRID.s, 2.0, reflections=False)
    heard = GRID.signal(GRID.spectrum(impulse) * way)
    # 2 m at 343.2 m/s are 559.44 samples
    assert abs(int(np.argmax(heard)) - 100 - 559) <= 1
    centre = np.sum(np.arange(96000)[600:720] * heard[600:720] ** 2) / np.sum(heard[600:720] ** 2)
    assert centre - 100 == pytest.approx(559.44, abs=0.1)
    assert np.abs(way[1000]) == pytest.approx(0.5)


def test_reflections_stay_below_minus_25_db_and_come_within_milliseconds() -> None:
    tight = path(GRID.s, 1.0, reflections=True) / path(GRID.s, 1.0, reflections=False) - 1.0
    answer = np.fft.irfft(tight, GRID.n_padded)
    energy_at = np.cumsum(answer**2) / np.sum(answer**2)
    assert np.argmax(energy_at > 0.99) < 0.008 * 96000
    for first, last in ((1.0e-3, 2.4e-3), (2.5e-3, 4e-3), (4.5e-3, 6e-3)):
        one = answer[round(first * 96000) : round(last * 96000)]
        assert 10 * np.log10(np.max(np.abs(np.fft.rfft(one, 4096))) ** 2) < -25.0
        assert np.any(one)


def test_the_ambient_microphone_hears_the_unit_20_db_weaker() -> None:
    ratio = np.abs(ambient_path(GRID.s, 1.0)) / np.abs(path(GRID.s, 1.0, reflections=False))
    assert 20 * np.log10(np.max(ratio)) < -20.0


def test_a_bang_has_its_peak_somewhere_in_the_middle() -> None:
    bang = bang_pa(85.0, GRID, np.random.default_rng(2))
    # 85 dB SPL peak = 20 µPa · 10^4.25 = 355.7 mPa
    assert np.max(np.abs(bang)) == pytest.approx(0.3557, rel=1e-3)
    assert 0.2 < np.argmax(np.abs(bang)) / 96000 < 0.8
