"""Harmonic distortion against memoryless distortions whose harmonics are known."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from station.analysis.acoustic.harmonics import DistortionResult, harmonic_distortion
from station.analysis.arrays import FloatArray
from station.analysis.plan import DistortionPlan
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError
from tests.analysis.distorted import Filter, distorted, heard, loudspeaker, recording_of, sweep_of

GATE_S = 0.1
BAND_POINTS = 800


def measured(recording: Recording, plan: DistortionPlan) -> DistortionResult:
    spectra = spectra_of(recording)
    return harmonic_distortion(spectra, gated_transfer(spectra, "microphone", GATE_S), plan)


def expected_db(
    order: int, ratio: float, through: Filter, centres_hz: FloatArray, per_octave: int
) -> FloatArray:
    """Return |ratio P(n f) / P(f)|, powers averaged over IEC 61260-1 bands, in dB."""
    half = 10.0 ** (0.15 / per_octave)
    places = (np.arange(BAND_POINTS) + 0.5) / BAND_POINTS
    band_hz = centres_hz * (1.0 / half + places[:, np.newaxis] * (half - 1.0 / half))
    harmonic = np.mean(np.abs(ratio * through(order * band_hz)) ** 2, axis=0)
    fundamental = np.mean(np.abs(through(band_hz)) ** 2, axis=0)
    level_db: FloatArray = 10.0 * np.log10(harmonic / fundamental)
    return level_db


def equal_harmonics(total_db: float, orders: tuple[int, ...]) -> dict[int, float]:
    return {order: 10.0 ** (total_db / 20.0) / len(orders) ** 0.5 for order in orders}


def worst_thd_error_db(
    result: DistortionResult, harmonics: Mapping[int, float], per_octave: int
) -> float:
    levels_db = [
        expected_db(order, ratio, loudspeaker, result.frequency_hz, per_octave)
        for order, ratio in harmonics.items()
    ]
    total_db = 10.0 * np.log10(np.sum(10.0 ** (np.array(levels_db) / 10.0), axis=0))
    return float(np.max(np.abs(result.thd_db - total_db)))


@pytest.mark.parametrize("total_db", [-30.0, -40.0, -50.0, -60.0, -70.0])
def test_two_second_sweep_reads_distortion_within_a_twentieth_decibel_from_40_hz(
    total_db: float,
) -> None:
    harmonics = equal_harmonics(total_db, (2, 3, 4, 5))
    sweep = sweep_of(2.0)
    recording = recording_of(sweep, heard(sweep, harmonics, loudspeaker), sweep_voltage(sweep))
    for per_octave in (3, 12):
        plan = DistortionPlan(40.0, 3000.0, per_octave, (2, 3, 4, 5))
        # 0.05 dB is the station's claim; found 0.019 dB.
        assert worst_thd_error_db(measured(recording, plan), harmonics, per_octave) < 0.05


def test_one_second_sweep_reads_third_octaves_within_a_tenth_decibel_from_40_hz() -> None:
    harmonics = equal_harmonics(-40.0, tuple(range(2, 11)))
    sweep = sweep_of(1.0)
    recording = recording_of(sweep, heard(sweep, harmonics, loudspeaker), sweep_voltage(sweep))
    plan = DistortionPlan(40.0, 3000.0, 3, tuple(range(2, 11)))
    assert worst_thd_error_db(measured(recording, plan), harmonics, 3) < 0.1
    # Twelfth octaves need more time: the windows are five periods of 40 Hz.
    fine = DistortionPlan(60.0, 3000.0, 12, tuple(range(2, 11)))
    assert worst_thd_error_db(measured(recording, fine), harmonics, 12) < 0.1


def test_each_order_reads_its_own_harmonic() -> None:
    harmonics = {2: 0.01, 3: 0.001, 4: 0.003, 7: 0.0003, 10: 0.0005}
    sweep = sweep_of(2.0)
    recording = recording_of(sweep, heard(sweep, harmonics, loudspeaker), sweep_voltage(sweep))
    result = measured(recording, DistortionPlan(60.0, 3000.0, 3, tuple(range(2, 11))))
    for order, ratio in harmonics.items():
        truth_db = expected_db(order, ratio, loudspeaker, result.frequency_hz, 3)
        np.testing.assert_allclose(result.h_db[order], truth_db, atol=0.05)
    for order in {2, 3, 4, 5, 6, 7, 8, 9, 10} - set(harmonics):
        # Beside harmonics at -40 dB a missing one stays below what any microphone resolves.
        assert np.max(result.h_db[order]) < -100.0


def test_linear_unit_has_no_distortion() -> None:
    sweep = sweep_of(1.0)
    recording = recording_of(sweep, heard(sweep, {1: 0.0}, loudspeaker), sweep_voltage(sweep))
    result = measured(recording, DistortionPlan(50.0, 5000.0, 3, (2, 3)))
    assert np.max(result.thd_db) < -120.0


def test_distortion_of_the_amplifier_is_not_laid_on_the_unit() -> None:
    sweep = sweep_of(1.0)
    peak_v = 2.0**0.5 * sweep.level_v
    voltage_v = distorted(sweep_voltage(sweep), {2: 0.01, 3: 0.01}, peak_v)
    result = measured(
        recording_of(sweep, 0.3 * voltage_v, voltage_v), DistortionPlan(50.0, 3000.0, 3, (2, 3))
    )
    assert np.max(result.thd_db) < -100.0


def test_order_drops_out_where_it_passes_the_top_of_the_sweep() -> None:
    harmonics = {2: 0.003, 10: 0.01}
    sweep = sweep_of(1.0)
    flat: Filter = np.ones_like
    recording = recording_of(sweep, heard(sweep, harmonics, flat), sweep_voltage(sweep))
    result = measured(recording, DistortionPlan(1000.0, 12500.0, 3, (2, 10)))
    gone = 10.0 * result.frequency_hz * 10.0**0.05 > sweep.stop_hz
    np.testing.assert_array_equal(np.isnan(result.h_db[10]), gone)
    assert not np.isnan(result.h_db[2]).any()
    # 20 lg 0.003, and 10 lg (0.003^2 + 0.01^2) where both count
    np.testing.assert_allclose(result.thd_db[gone], -50.458, atol=0.05)
    np.testing.assert_allclose(result.thd_db[~gone], -39.626, atol=0.05)


def test_total_is_missing_where_no_order_lies_inside_the_sweep() -> None:
    sweep = sweep_of(1.0)
    recording = recording_of(sweep, heard(sweep, {3: 0.01}, loudspeaker), sweep_voltage(sweep))
    result = measured(recording, DistortionPlan(8000.0, 20e3, 3, (3,)))
    np.testing.assert_array_equal(np.isnan(result.thd_db), np.isnan(result.h_db[3]))
    assert np.isnan(result.thd_db[-1])
    assert np.isfinite(result.thd_db[0])


def test_louder_or_later_recording_reads_the_same_ratios() -> None:
    sweep = sweep_of(1.0)
    pressure_pa = heard(sweep, {2: 0.01, 3: 0.003}, loudspeaker)
    plan = DistortionPlan(50.0, 3000.0, 12, (2, 3))
    voltage_v = sweep_voltage(sweep)
    first = measured(recording_of(sweep, pressure_pa, voltage_v), plan)
    later = 1234
    second = measured(
        recording_of(sweep, 3.0 * np.roll(pressure_pa, later), np.roll(voltage_v, later)), plan
    )
    # The window moves by whole samples, its place between them by less.
    np.testing.assert_allclose(second.thd_db, first.thd_db, atol=1e-3)


def test_room_noise_of_45_db_moves_the_reading_of_one_per_cent_little() -> None:
    sweep = sweep_of(2.0)
    harmonics = equal_harmonics(-40.0, (2, 3, 4, 5))
    pressure_pa = heard(sweep, harmonics, loudspeaker)
    noise_pa = 20e-6 * 10.0 ** (45.0 / 20.0)
    pressure_pa += noise_pa * np.random.default_rng(5).standard_normal(pressure_pa.size)
    recording = recording_of(sweep, pressure_pa, sweep_voltage(sweep))
    result = measured(recording, DistortionPlan(50.0, 3000.0, 3, (2, 3, 4, 5)))
    # 45 dB SPL over the whole band beside a sweep of 92 dB SPL; 0.11 to 0.21 dB found.
    assert worst_thd_error_db(result, harmonics, 3) < 0.5


def test_unit_that_is_not_heard_gives_no_reading() -> None:
    sweep = sweep_of(1.0)
    spectra = spectra_of(recording_of(sweep, 0.1 * sweep_voltage(sweep), sweep_voltage(sweep)))
    nothing = Transfer(
        spectra.frequency_hz, np.zeros(spectra.frequency_hz.size, np.complex128), 0.0, "Pa/V"
    )
    with pytest.raises(NoSignalError, match="did not hear"):
        harmonic_distortion(spectra, nothing, DistortionPlan(50.0, 3000.0, 3, (2,)))


def test_recording_that_ends_before_the_sweep_gives_no_reading() -> None:
    sweep = sweep_of(1.0)
    voltage_v = sweep_voltage(sweep)[: sweep.sweep_samples // 2]
    with pytest.raises(NoSignalError, match="shorter than the sweep"):
        measured(recording_of(sweep, voltage_v, voltage_v), DistortionPlan(50.0, 3000.0, 3, (2,)))


@pytest.mark.parametrize(
    "plan",
    [
        DistortionPlan(50.0, 3000.0, 3, ()),
        DistortionPlan(50.0, 3000.0, 3, (1, 2)),
        DistortionPlan(50.0, 3000.0, 3, (11,)),
        DistortionPlan(10.0, 3000.0, 3, (2,)),
        DistortionPlan(50.0, 44e3, 3, (2,)),
    ],
)
def test_plan_that_cannot_be_carried_out_is_refused(plan: DistortionPlan) -> None:
    sweep = sweep_of(1.0)
    recording = recording_of(sweep, 0.1 * sweep_voltage(sweep), sweep_voltage(sweep))
    with pytest.raises(ValueError, match=r"orders|inside the sweep"):
        measured(recording, plan)
