from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.signals.continuation import continued_below

STOP = 50  # the sweep starts at 50 bins of 0.38 Hz, 19 Hz
BINS = np.arange(STOP, 76)


def closed_box(bins: FloatArray, resonance: float, q: float) -> ComplexArray:
    """Return the second-order high-pass of a closed box (Small, JAES 20(10), 1972)."""
    s = 1j * bins / resonance
    return s**2 / (s**2 + s / q + 1.0)


@pytest.mark.parametrize("resonance", [20.0, 45.0, 60.0, 130.0])
@pytest.mark.parametrize("q", [0.5, 0.7, 2.0, 6.0])
def test_closed_box_is_continued_exactly(resonance: float, q: float) -> None:
    known = closed_box(np.arange(76.0), resonance, q)
    # The fit is linear and the model holds: what is left is rounding, larger where Q is low.
    np.testing.assert_allclose(continued_below(known[STOP:], STOP), known[:STOP], atol=1e-4)


def test_vented_box_is_continued_closely() -> None:
    known = closed_box(np.arange(76.0), 65.0, 0.541) * closed_box(np.arange(76.0), 65.0, 1.307)
    error = np.abs(continued_below(known[STOP:], STOP) - known[:STOP])
    # A Butterworth of fourth order against a ratio of third: a gate smears by a few bins, so what
    # matters is near the start. At 0 Hz 0.038 of the passband is left, an octave below the start
    # 0.025, at the start 0.002.
    assert np.max(error) < 0.05
    assert np.max(error[STOP // 2 :]) < 0.03
    assert error[-1] < 0.002


def test_what_is_flat_stays_flat() -> None:
    below = continued_below(np.full(26, -3.0 + 0j), STOP)
    np.testing.assert_allclose(below, -3.0, rtol=1e-6)


def test_pole_that_would_ring_is_not_believed() -> None:
    # Q 50 just below the known bins: a spike that only noise could mean.
    known = closed_box(BINS.astype(np.float64), 48.0, 50.0)
    below = continued_below(known, STOP)
    assert np.max(np.abs(below)) < 10.0 * np.max(np.abs(known))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.integers(1, 26),
    st.integers(1, 60),
    st.integers(0, 99),
    st.sampled_from([5e-324, 1e-300, 1.0]),
)
def test_noise_is_continued_by_something_finite(
    count: int, stop: int, seed: int, size: float
) -> None:
    parts = np.random.default_rng(seed).standard_normal((2, count))
    below = continued_below(size * (parts[0] + 1j * parts[1]), stop)
    assert below.shape == (stop,)
    assert np.isfinite(below).all()
    assert below[0].imag == 0.0  # at 0 Hz every real system is real


def test_nothing_is_continued_by_nothing() -> None:
    assert not continued_below(np.zeros(26, dtype=np.complex128), STOP).any()


def test_nothing_known_is_refused() -> None:
    with pytest.raises(ValueError, match="known bin"):
        continued_below(np.zeros(0, dtype=np.complex128), STOP)
    with pytest.raises(ValueError, match="known bin"):
        continued_below(np.ones(26, dtype=np.complex128), 0)
