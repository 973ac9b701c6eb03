from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from station.analysis.acoustic.polarity import SectionState, first_half_wave, section_states
from station.analysis.acoustic.response import reference_of
from station.analysis.plan import Reference, SectionPlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError
from tests.analysis.closedforms import SWEEP, played, tweeter, two_way, woofer

SECTIONS = (SectionPlan("woofer", 80.0, 1500.0), SectionPlan("tweeter", 4000.0, 16e3))
FLIGHT_SAMPLES = 279.72  # 1 m at 343.2 m/s and 96 kHz
MICROSECOND_SAMPLES = 0.096


def response_of(path, late_samples: float = 0.0) -> Transfer:
    recording = played(SWEEP, path, flight_samples=FLIGHT_SAMPLES + late_samples)
    return gated_transfer(spectra_of(recording), "microphone", 0.2)


@pytest.fixture(scope="module")
def reference() -> Reference:
    return reference_of(response_of(two_way), SWEEP, 1.0, 40.0, 20e3)


def states(reference: Reference, path, late_samples: float = 0.0) -> Mapping[str, SectionState]:
    return section_states(response_of(path, late_samples), reference, SECTIONS, SWEEP, 1.0)


@pytest.mark.parametrize("late_us", [0.0, 200.0, -200.0, 430.0])
def test_good_unit_reads_plus_one_wherever_it_stands(reference: Reference, late_us: float) -> None:
    found = states(reference, two_way, MICROSECOND_SAMPLES * late_us)
    for state in found.values():
        assert state.polarity_ratio == pytest.approx(1.0, abs=0.002)
        assert state.level_db == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("late_us", [0.0, 200.0, -200.0])
@pytest.mark.parametrize(("low", "high"), [(-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
def test_reversed_section_reads_minus_one_and_the_other_stays(
    reference: Reference, low: float, high: float, late_us: float
) -> None:
    def unit(frequency_hz: np.ndarray) -> np.ndarray:
        return low * woofer(frequency_hz) + high * tweeter(frequency_hz)

    found = states(reference, unit, MICROSECOND_SAMPLES * late_us)
    # Both sections leak a little into each other's band.
    assert found["woofer"].polarity_ratio == pytest.approx(low, abs=0.05)
    assert found["tweeter"].polarity_ratio == pytest.approx(high, abs=0.05)


@pytest.mark.parametrize(("dead", "alive"), [("woofer", tweeter), ("tweeter", woofer)])
def test_dead_section_reads_zero_and_the_other_stays(reference, dead, alive) -> None:
    found = states(reference, alive)
    other = {"woofer": "tweeter", "tweeter": "woofer"}[dead]
    assert abs(found[dead].polarity_ratio) < 0.15
    assert found[dead].level_db < -12.0
    assert found[other].polarity_ratio == pytest.approx(1.0, abs=0.02)


def test_weak_section_keeps_its_polarity(reference: Reference) -> None:
    def unit(frequency_hz: np.ndarray) -> np.ndarray:
        return woofer(frequency_hz) - 0.5 * tweeter(frequency_hz)

    # Above 8 kHz the woofer is 40 dB down (fourth order from 2.5 kHz): it hides nothing.
    high = SectionPlan("tweeter", 8000.0, 16e3)
    found = section_states(response_of(unit), reference, (high,), SWEEP, 1.0)
    assert found["tweeter"].polarity_ratio == pytest.approx(-1.0, abs=0.01)
    # 20 lg 0.5 = -6.02; what is left of the woofer takes up to 0.15 dB at the lower end.
    assert found["tweeter"].level_db == pytest.approx(-6.02, abs=0.1)


def test_distance_is_taken_into_account(reference: Reference) -> None:
    def nearer(frequency_hz: np.ndarray) -> np.ndarray:
        return 2.0 * two_way(frequency_hz)  # at 0.5 m the pressure is twice that at 1 m

    recording = played(SWEEP, nearer, flight_samples=0.5 * FLIGHT_SAMPLES)
    response = gated_transfer(spectra_of(recording), "microphone", 0.2)
    for state in section_states(response, reference, SECTIONS, SWEEP, 0.5).values():
        assert state.polarity_ratio == pytest.approx(1.0, abs=0.002)
        assert state.level_db == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_first_half_wave_tells_polarity_without_a_reference(sign: float) -> None:
    def unit(frequency_hz: np.ndarray) -> np.ndarray:
        return sign * two_way(frequency_hz)

    # The crossover's all-pass of order 4 has turned the low section by two turns, the high one by
    # none: positive voltage gives positive pressure in both (IEC 60268-5).
    response = response_of(unit)
    assert [first_half_wave(response, section) for section in SECTIONS] == [sign, sign]


def test_silence_and_gaps_in_the_reference_are_told(reference: Reference) -> None:
    response = response_of(two_way)
    silent = Transfer(response.frequency_hz, 0.0 * response.values, 0.0, "Pa/V")
    with pytest.raises(NoSignalError, match="woofer"):
        section_states(silent, reference, SECTIONS, SWEEP, 1.0)
    with pytest.raises(NoSignalError, match="woofer"):
        first_half_wave(silent, SECTIONS[0])
    beyond = (SectionPlan("panel", 21e3, 30e3),)
    with pytest.raises(NoSignalError, match="reference"):
        section_states(response, reference, beyond, SWEEP, 1.0)
