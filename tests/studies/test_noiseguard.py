"""A short version of the noise guard's study; the long one prints its own rates of error."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from station.judging.files.shelf import ShelvedLimits, shelved
from tests.studies.noiseguard import LIMITS, Faults, ended, interval, units_of
from tests.studies.roomsounds import RECORDED, SYNTHESISED, one_of, recorded_sounds

UNITS = 3
RUBBING: Faults = {"coil_rub": 66.0}


@pytest.fixture(scope="module")
def tarn() -> ShelvedLimits:
    return shelved(LIMITS / "tarn2.toml")


@pytest.mark.parametrize("ambient", [True, False])
def test_no_good_unit_fails_for_a_noise_in_every_sweep(
    tarn: ShelvedLimits, *, ambient: bool
) -> None:
    good = units_of(tarn, "T2A", 9000, UNITS, {})
    for seed, (name, sound) in enumerate(SYNTHESISED.items()):
        assert ended(good, sound, ambient=ambient, seed=seed).verdicts["fail"] == 0, name


@pytest.mark.parametrize("ambient", [True, False])
def test_no_rubbing_unit_passes_for_a_noise_in_every_sweep(
    tarn: ShelvedLimits, *, ambient: bool
) -> None:
    rubbing = units_of(tarn, "T2A", 9100, 1, RUBBING)
    for seed, (name, sound) in enumerate(SYNTHESISED.items()):
        verdicts = ended(rubbing, sound, ambient=ambient, seed=seed).verdicts
        assert verdicts["pass"] == 0, name
        assert verdicts["fail"] > 0, name


def test_a_silent_hall_costs_no_sweep(tarn: ShelvedLimits) -> None:
    found = ended(units_of(tarn, "T2A", 9000, UNITS, {}), None, ambient=True)
    assert found.sweeps == UNITS
    assert found.verdicts["pass"] == UNITS


@pytest.mark.tools
def test_recorded_noises_fail_no_good_unit(
    tarn: ShelvedLimits, request: pytest.FixtureRequest
) -> None:
    sounds = recorded_sounds()
    if len(sounds) < len(RECORDED) and not request.config.getoption("--require-tools"):
        pytest.skip("apt install minetest-data bucklespring-data to run this test")
    assert len(sounds) == len(RECORDED)
    good = units_of(tarn, "T2A", 9000, 2, {})
    for seed, (name, sound) in enumerate(sounds.items()):
        assert ended(good, sound, ambient=True, seed=seed).verdicts["fail"] == 0, name


def test_the_interval_of_no_hit_is_the_closed_form() -> None:
    # Clopper and Pearson 1934: with no hit the upper end solves (1 - p)^n = alpha / 2.
    low, high = interval(0, 100)
    assert low == 0.0
    assert high == pytest.approx(1.0 - 0.025**0.01, rel=1e-9)


def test_a_recorded_noise_is_resampled_to_the_stations_rate(tmp_path: Path) -> None:
    path = tmp_path / "click.wav"
    time_s = np.arange(4410) / 44100.0
    soundfile.write(path, 0.5 * np.sin(2.0 * np.pi * 1000.0 * time_s), 44100)
    heard = one_of([path])(np.random.default_rng(1))
    assert heard.size == 9600  # a tenth of a second at 96 kHz
    spectrum = np.abs(np.fft.rfft(heard))
    assert np.argmax(spectrum) == 100  # 1 kHz in steps of 10 Hz
