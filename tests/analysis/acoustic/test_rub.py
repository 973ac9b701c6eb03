"""Rub and buzz: bursts of known size are found where they are, and nothing else is."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.analysis.acoustic.rub import RubResult, rub_and_buzz
from station.analysis.arrays import FloatArray
from station.analysis.plan import RubPlan
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError
from tests.analysis.distorted import DELAY_S, heard, loudspeaker, recording_of, sweep_of

PLAN = RubPlan(50.0, 1000.0, 1000.0, 16e3)
BURST_HZ = 4000.0
BURST_S = 0.4e-3  # standard deviation of the Gaussian: 98 % of the energy within 3 to 5 kHz
SWEEP = sweep_of(2.0)


def measured(recording: Recording, plan: RubPlan = PLAN) -> RubResult:
    spectra = spectra_of(recording)
    response = gated_transfer(spectra, "microphone", 0.1)
    return rub_and_buzz(spectra, response, plan, recording.distance_m)


def pascals(level_db: float) -> float:
    return 20e-6 * 10.0 ** (level_db / 20.0)


def cycle_starts_s(sweep: Sweep, from_hz: float, to_hz: float) -> FloatArray:
    """Return when each whole cycle begins: f1 L (exp(t/L) - 1) is a whole number."""
    cycles = sweep.start_hz * sweep.rate_s
    first = math.ceil(cycles * (from_hz / sweep.start_hz - 1.0))
    last = math.floor(cycles * (to_hz / sweep.start_hz - 1.0))
    starts_s: FloatArray = sweep.rate_s * np.log(1.0 + np.arange(first, last + 1) / cycles)
    return starts_s


def bursts_pa(sweep: Sweep, peak_pa: float, from_hz: float, to_hz: float) -> FloatArray:
    """Return one burst for every cycle between two excitation frequencies, as the unit emits it."""
    time_s = np.arange(sweep.n_samples) / sweep.rate_hz - sweep.lead_in_s - DELAY_S
    pressure_pa = np.zeros(sweep.n_samples)
    for start_s in cycle_starts_s(sweep, from_hz, to_hz):
        since_s = time_s - start_s
        envelope = np.exp(-0.5 * (since_s / BURST_S) ** 2)
        pressure_pa += peak_pa * envelope * np.cos(2.0 * np.pi * BURST_HZ * since_s)
    return pressure_pa


@pytest.fixture(scope="module")
def unit_pa() -> FloatArray:
    """Return a loud unit with 1 % of distortion, orders 2 to 5."""
    return heard(SWEEP, dict.fromkeys((2, 3, 4, 5), 0.005), loudspeaker)


@pytest.mark.parametrize("level_db", [35.0, 57.0, 75.0])
@pytest.mark.parametrize("at_hz", [63.096, 100.0, 251.19])
def test_burst_is_found_at_its_excitation_with_its_peak(
    unit_pa: FloatArray, level_db: float, at_hz: float
) -> None:
    buzzing_pa = unit_pa + bursts_pa(SWEEP, pascals(level_db), 0.92 * at_hz, 1.08 * at_hz)
    result = measured(recording_of(SWEEP, buzzing_pa, sweep_voltage(SWEEP)))
    band = int(np.argmin(np.abs(result.frequency_hz - at_hz)))
    # Between two samples of 96 kHz a wave of 4 kHz loses 20 lg cos(pi/24) = 0.07 dB at most.
    assert result.peak_db_spl[band] == pytest.approx(level_db, abs=0.1)
    assert np.max(np.delete(result.peak_db_spl, band)) < level_db - 60.0


def test_crest_is_that_of_the_bursts(unit_pa: FloatArray) -> None:
    peak_pa = pascals(60.0)
    lower_hz, upper_hz = 100.0 * 10.0**-0.05, 100.0 * 10.0**0.05
    # Bursts well inside the third octave, so that none is cut by its edge.
    from_hz, to_hz = 91.0, 110.0
    recording = recording_of(
        SWEEP, unit_pa + bursts_pa(SWEEP, peak_pa, from_hz, to_hz), sweep_voltage(SWEEP)
    )
    result = measured(recording)
    # Energy of a Gaussian burst: peak^2 sqrt(pi) s / 2; the band lasts L ln(upper / lower).
    count = cycle_starts_s(SWEEP, from_hz, to_hz).size
    energy = count * peak_pa**2 * math.sqrt(math.pi) * BURST_S / 2.0
    rms_pa = math.sqrt(energy / (SWEEP.rate_s * math.log(upper_hz / lower_hz)))
    expected_db = 20.0 * math.log10(peak_pa / rms_pa)
    assert result.crest_db[3] == pytest.approx(expected_db, abs=0.15)


def test_harmonics_up_to_the_fifth_leave_nothing(unit_pa: FloatArray) -> None:
    result = measured(recording_of(SWEEP, unit_pa, sweep_voltage(SWEEP)))
    # Far below the hearing threshold at 0 dB SPL, beside a sweep of more than 90 dB.
    assert np.max(result.peak_db_spl) < -60.0


def test_tenth_harmonic_is_stopped_and_twelfth_is_heard() -> None:
    plan = RubPlan(160.0, 500.0, 1000.0, 16e3)
    # The twelfth of 500 Hz is 6 kHz; both are 1 % of about 90 dB.
    tenth = measured(
        recording_of(SWEEP, heard(SWEEP, {10: 0.01}, loudspeaker), sweep_voltage(SWEEP)), plan
    )
    twelfth = measured(
        recording_of(SWEEP, heard(SWEEP, {12: 0.01}, loudspeaker), sweep_voltage(SWEEP)), plan
    )
    assert np.max(tenth.peak_db_spl) < np.min(twelfth.peak_db_spl) - 40.0


def test_steady_noise_reads_its_level(unit_pa: FloatArray) -> None:
    noise_pa = pascals(45.0) * np.random.default_rng(11).standard_normal(SWEEP.n_samples)
    result = measured(recording_of(SWEEP, unit_pa + noise_pa, sweep_voltage(SWEEP)))
    # White to 48 kHz; heard from 10.5 f (1 kHz at least) to 16 kHz and, of the raised cosine over a
    # third of an octave outside, 3/8 of the power.
    skirt_hz = 0.375 * 16e3 * (2.0 ** (1.0 / 3.0) - 1.0)
    heard_hz = 16e3 + skirt_hz - np.maximum(10.5 * result.frequency_hz, 1000.0)
    rms_db = result.peak_db_spl - result.crest_db
    # A band holds 2 B T = 1000 to 2000 independent values: 0.2 dB of chance, and the high-pass
    # moves by a third of an octave meanwhile.
    np.testing.assert_allclose(rms_db, 45.0 + 10.0 * np.log10(heard_hz / 48e3), atol=0.7)
    # The largest of so many Gaussian values lies 3 to 5 sigma out.
    assert np.all((result.crest_db > 9.5) & (result.crest_db < 14.0))


def test_burst_beside_noise_still_stands_out(unit_pa: FloatArray) -> None:
    noise_pa = pascals(45.0) * np.random.default_rng(11).standard_normal(SWEEP.n_samples)
    rubbing_pa = unit_pa + noise_pa + bursts_pa(SWEEP, pascals(63.0), 91.0, 110.0)
    result = measured(recording_of(SWEEP, rubbing_pa, sweep_voltage(SWEEP)))
    assert int(np.argmax(result.peak_db_spl)) == 3
    assert result.peak_db_spl[3] == pytest.approx(63.0, abs=2.0)


def test_level_is_referred_to_one_metre(unit_pa: FloatArray) -> None:
    buzzing_pa = unit_pa + bursts_pa(SWEEP, pascals(60.0), 91.0, 110.0)
    near = measured(recording_of(SWEEP, buzzing_pa, sweep_voltage(SWEEP), distance_m=0.5))
    # 1/r: half the distance is 6.02 dB more than at 1 m.
    assert near.peak_db_spl[3] == pytest.approx(60.0 - 6.02, abs=0.1)


def test_later_recording_reads_the_same(unit_pa: FloatArray) -> None:
    buzzing_pa = unit_pa + bursts_pa(SWEEP, pascals(60.0), 91.0, 110.0)
    later = 777
    recording = recording_of(
        SWEEP, np.roll(buzzing_pa, later), np.roll(sweep_voltage(SWEEP), later)
    )
    assert measured(recording).peak_db_spl[3] == pytest.approx(60.0, abs=0.1)


def test_silence_gives_no_reading() -> None:
    spectra = spectra_of(recording_of(SWEEP, np.zeros(SWEEP.n_samples), sweep_voltage(SWEEP)))
    nothing = Transfer(
        spectra.frequency_hz, np.zeros(spectra.frequency_hz.size, np.complex128), 0.0, "Pa/V"
    )
    with pytest.raises(NoSignalError, match="heard nothing"):
        rub_and_buzz(spectra, nothing, PLAN, 1.0)


def test_recording_that_ends_before_the_sweep_gives_no_reading() -> None:
    voltage_v = sweep_voltage(SWEEP)[: SWEEP.sweep_samples // 2]
    with pytest.raises(NoSignalError, match="shorter than the sweep"):
        measured(recording_of(SWEEP, voltage_v, voltage_v))


@pytest.mark.parametrize(
    "plan",
    [RubPlan(50.0, 1600.0, 1000.0, 16e3), RubPlan(10.0, 1000.0, 1000.0, 16e3)],
)
def test_plan_that_cannot_be_carried_out_is_refused(plan: RubPlan) -> None:
    with pytest.raises(ValueError, match=r"eleventh|inside the sweep"):
        measured(recording_of(SWEEP, 0.1 * sweep_voltage(SWEEP), sweep_voltage(SWEEP)), plan)


def test_distance_of_nothing_is_refused() -> None:
    recording = recording_of(SWEEP, 0.1 * sweep_voltage(SWEEP), sweep_voltage(SWEEP), 0.0)
    with pytest.raises(ValueError, match="distance"):
        measured(recording)
