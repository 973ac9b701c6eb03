from __future__ import annotations

import pytest

from station.quality.statistics.chartfactors import c4, d2, d3, mean_range_factors

# d2: ISO 7870-2 and every textbook, three decimals. Spread of the range: ten decimals by Harter,
# Annals of Mathematical Statistics 31(4), 1960 (from memory); for 25 only the table se.R.unscaled
# of the R package qcc, which lies up to 1.2e-5 above his.
D2 = {2: 1.128, 3: 1.693, 4: 2.059, 5: 2.326, 6: 2.534, 7: 2.704, 8: 2.847, 9: 2.970, 10: 3.078,
      11: 3.173, 12: 3.258, 25: 3.931}  # fmt: skip
HARTER = {2: 0.8525024664, 3: 0.8883680040, 4: 0.8798082028, 5: 0.8640819411, 6: 0.8480396861,
          7: 0.8332053356, 8: 0.8198314898, 9: 0.8078342746, 10: 0.7970506735}  # fmt: skip
QCC = {2: 0.8525033, 3: 0.8883697, 4: 0.8798108, 5: 0.8640855, 10: 0.7970584, 12: 0.7784873,
       25: 0.7084528}  # fmt: skip
# A2, D3, D4: NIST/SEMATECH e-Handbook, 6.3.2.1 (factors for X-bar and R charts), from memory,
# and the same in several open packages.
CHART = {2: (1.880, 0.0, 3.267), 3: (1.023, 0.0, 2.575), 4: (0.729, 0.0, 2.282),
         5: (0.577, 0.0, 2.115), 6: (0.483, 0.0, 2.004), 7: (0.419, 0.076, 1.924),
         8: (0.373, 0.136, 1.864), 9: (0.337, 0.184, 1.816), 10: (0.308, 0.223, 1.777)}  # fmt: skip


@pytest.mark.parametrize("size", D2)
def test_the_mean_range_is_the_published_one(size: int) -> None:
    assert d2(size) == pytest.approx(D2[size], abs=5.1e-4)


def test_the_spread_of_the_range_is_the_published_one() -> None:
    for size, published in HARTER.items():
        assert d3(size) == pytest.approx(published, abs=2e-10)
    for size, published in QCC.items():
        assert d3(size) == pytest.approx(published, abs=1.3e-5)


def test_the_range_of_two_is_known_in_closed_form() -> None:
    # |x − y| of two normals is half-normal of √2: mean 2/√π, variance 2 − 4/π.
    assert d2(2) == pytest.approx(1.1283791670955126, rel=1e-10)
    assert d3(2) == pytest.approx(0.8525024664600105, abs=2e-10)


@pytest.mark.parametrize("size", CHART)
def test_factors_of_charts_are_the_published_ones(size: int) -> None:
    assert mean_range_factors(size) == pytest.approx(CHART[size], abs=1e-3)


def test_the_mean_standard_deviation_is_the_published_one() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2: c4 of 2, 5, 10 (four decimals; from memory)
    assert [c4(n) for n in (2, 5, 10)] == pytest.approx([0.7979, 0.9400, 0.9727], abs=5e-5)


@pytest.mark.parametrize("size", [1, 51])
def test_a_sample_nobody_takes_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="a sample of 2 to 50"):
        d2(size)
