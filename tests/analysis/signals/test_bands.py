from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.signals.bands import band_centres, band_edges

# IEC 61260-1:2014, table of one-third-octave mid-band frequencies, base ten: 10^(n/10) Hz, and
# their nominal values as in ISO 266.
THIRD_OCTAVES = {
    20.0: 19.953, 25.0: 25.119, 31.5: 31.623, 40.0: 39.811, 50.0: 50.119, 63.0: 63.096,
    80.0: 79.433, 100.0: 100.0, 125.0: 125.89, 160.0: 158.49, 200.0: 199.53, 250.0: 251.19,
    315.0: 316.23, 400.0: 398.11, 500.0: 501.19, 630.0: 630.96, 800.0: 794.33, 1000.0: 1000.0,
    1250.0: 1258.9, 1600.0: 1584.9, 2000.0: 1995.3, 2500.0: 2511.9, 3150.0: 3162.3,
    4000.0: 3981.1, 5000.0: 5011.9, 6300.0: 6309.6, 8000.0: 7943.3, 10000.0: 10000.0,
    12500.0: 12589.0, 16000.0: 15849.0, 20000.0: 19953.0,
}  # fmt: skip


def test_third_octaves_are_those_of_the_standard() -> None:
    centres_hz = band_centres(20.0, 20e3, 3)
    assert centres_hz == pytest.approx(list(THIRD_OCTAVES.values()), rel=5e-5)


@pytest.mark.parametrize("nominal_hz", THIRD_OCTAVES)
def test_nominal_frequencies_select_their_bands(nominal_hz: float) -> None:
    assert band_centres(nominal_hz, nominal_hz, 3) == pytest.approx(
        [THIRD_OCTAVES[nominal_hz]], rel=5e-5
    )


def test_half_octaves_straddle_the_reference() -> None:
    # IEC 61260-1:2014, even fractions: 1000 G^(-1/4) and 1000 G^(1/4), G = 10^(3/10).
    assert band_centres(800.0, 1250.0, 2) == pytest.approx([841.395, 1188.50], rel=1e-5)


def test_edges_of_the_third_octave_at_1_khz() -> None:
    # IEC 61260-1:2014: 1000 G^(-1/6) and 1000 G^(1/6), that is 10^(2.95) and 10^(3.05).
    lower_hz, upper_hz = band_edges(np.array([1000.0]), 3)
    assert lower_hz[0] == pytest.approx(891.251, rel=1e-6)
    assert upper_hz[0] == pytest.approx(1122.018, rel=1e-6)


@given(st.integers(1, 48), st.floats(20.0, 1000.0), st.floats(2.0, 100.0))
def test_bands_join_without_gap(fraction: int, from_hz: float, ratio: float) -> None:
    centres_hz = band_centres(from_hz, ratio * from_hz, fraction)
    lower_hz, upper_hz = band_edges(centres_hz, fraction)
    assert upper_hz[:-1] == pytest.approx(lower_hz[1:])


@pytest.mark.parametrize(
    "wrong", [(0.0, 10.0, 3), (20.0, 10.0, 3), (20.0, 30.0, 0), (1100.0, 1110.0, 3)]
)
def test_impossible_ranges_are_refused(wrong: tuple[float, float, int]) -> None:
    with pytest.raises(ValueError, match=r"need|no 1/"):
        band_centres(*wrong)


def test_edges_of_no_bands_are_refused() -> None:
    with pytest.raises(ValueError, match="one band"):
        band_edges(np.array([1000.0]), 0)
