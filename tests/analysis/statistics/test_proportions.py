from __future__ import annotations

import math

import pytest
from scipy.stats import binomtest

from station.analysis.statistics.proportions import proportion


@pytest.mark.parametrize(
    ("hits", "n", "lower", "upper"),
    # Newcombe, Statistics in Medicine 17, 1998, pp. 857-872, table I, exact method
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684),
     (1, 29, 0.0009, 0.1776)],
)  # fmt: skip
def test_intervals_agree_with_published_ones(hits: int, n: int, lower: float, upper: float) -> None:
    share = proportion(hits, n)
    assert round(share.lower_ratio, 4) == lower
    assert round(share.upper_ratio, 4) == upper


@pytest.mark.parametrize("n", [1, 7, 400])
def test_none_and_all_have_closed_forms(n: int) -> None:
    # Clopper and Pearson, Biometrika 26(4), 1934: (1 - p)^n = 0.025 at the upper end of none
    bound = 0.025 ** (1.0 / n)
    none, every = proportion(0, n), proportion(n, n)
    assert none.lower_ratio == 0.0
    assert none.upper_ratio == pytest.approx(1.0 - bound, rel=1e-9)
    assert every.lower_ratio == pytest.approx(bound, rel=1e-9)
    assert every.upper_ratio == 1.0


@pytest.mark.parametrize("hits", [0, 1, 5, 12, 13])
@pytest.mark.parametrize("confidence_ratio", [0.9, 0.99])
def test_intervals_agree_with_scipys_exact_test(hits: int, confidence_ratio: float) -> None:
    interval = binomtest(hits, 13).proportion_ci(confidence_ratio, "exact")
    share = proportion(hits, 13, confidence_ratio)
    # scipy finds the ends by search, to about 1e-10
    assert share.lower_ratio == pytest.approx(interval.low, abs=1e-8)
    assert share.upper_ratio == pytest.approx(interval.high, abs=1e-8)


def test_nothing_is_known_from_none() -> None:
    share = proportion(0, 0)
    assert math.isnan(share.ratio)
    assert (share.lower_ratio, share.upper_ratio) == (0.0, 1.0)


@pytest.mark.parametrize(("hits", "n"), [(3, 2), (-1, 2)])
def test_impossible_counts_are_refused(hits: int, n: int) -> None:
    with pytest.raises(ValueError, match="hits"):
        proportion(hits, n)
