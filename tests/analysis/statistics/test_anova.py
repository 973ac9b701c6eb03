"""One-way sums of squares against certified values; crossed ones in test_gaugestudy."""

from __future__ import annotations

import math
import re
from importlib.resources import files

import numpy as np
import pytest
from scipy.stats import f_oneway

from station.analysis.statistics.anova import crossed, one_way

# NIST Statistical Reference Datasets, analysis of variance (Simon and Lesage 1989), as scipy
# carries them. The last number is how many digits agree at least. The values of the last three
# sets share 13 leading digits: doubles themselves hold only 4 digits of what differs.
SETS = [
    ("SiRstv", 12), ("AtmWtAg", 9), ("SmLs01", 13), ("SmLs02", 12), ("SmLs03", 12),
    ("SmLs04", 9), ("SmLs05", 9), ("SmLs06", 9), ("SmLs07", 3), ("SmLs08", 3), ("SmLs09", 3),
]  # fmt: skip


def nist(name: str) -> tuple[list[str], list[np.ndarray]]:
    """Return the certified lines of a set and its groups."""
    path = files("scipy.stats.tests") / "data" / "nist_anova" / f"{name}.dat"
    lines = path.read_text(encoding="ascii").splitlines()
    rows = [line.split() for line in lines[60:] if line.strip()]
    treatments = dict.fromkeys(row[0] for row in rows)
    groups = [np.array([float(y) for t, y in rows if t == which]) for which in treatments]
    return lines, groups


def digits(found: float, certified: float) -> float:
    """Return how many digits agree."""
    if found == certified:
        return 15.0
    return -math.log10(abs(found - certified) / abs(certified))


@pytest.mark.parametrize(("name", "least"), SETS)
def test_certified_values_are_met(name: str, least: int) -> None:
    lines, groups = nist(name)
    between, within = (next(x for x in lines if x.startswith(w)) for w in ("Between", "Within"))
    df_b, ss_b, ms_b, f_ratio = between.split()[2:6]
    df_w, ss_w, ms_w = within.split()[2:5]
    found = one_way(groups)
    assert (found.between_df, found.within_df) == (int(df_b), int(df_w))
    for value, certified in (
        (found.between_ss, ss_b),
        (found.between_ms, ms_b),
        (found.within_ss, ss_w),
        (found.within_ms, ms_w),
        (found.f_ratio, f_ratio),
    ):
        assert digits(value, float(certified)) >= least, (value, certified)
    assert re.fullmatch(r"[0-9.E+-]+", f_ratio)


def test_the_probability_is_scipys() -> None:
    _, groups = nist("SiRstv")
    assert one_way(groups).p_value == pytest.approx(f_oneway(*groups).pvalue, rel=1e-9)


def test_the_variance_between_groups_is_found_again_and_never_negative() -> None:
    random = np.random.default_rng(1)
    groups = [random.normal(centre, 0.5, 200) for centre in random.normal(0.0, 2.0, 400)]
    assert one_way(groups).between_variance == pytest.approx(4.0, rel=0.2)  # 3 sigma of chi2(399)
    alike = [np.array([1.0, 2.0, 3.0]) + shift for shift in (0.0, 0.001)]
    assert one_way(alike).between_variance == 0.0


def test_crossed_sums_of_a_table_made_by_hand() -> None:
    # two parts, two operators, twice: cell means 11, 15, 21, 25 about 18. By hand: parts
    # 4 (5² + 5²) = 200, operators 4 (2² + 2²) = 32, interaction 0, repeats 4 · 2 = 8 with 4 df.
    values = np.array([[[10.0, 12.0], [14.0, 16.0]], [[20.0, 22.0], [24.0, 26.0]]])[..., None]
    found = crossed(values)
    means = (found.part_ms, found.operator_ms, found.interaction_ms, found.repeat_ms)
    assert [float(ms[0]) for ms in means] == pytest.approx([200.0, 32.0, 0.0, 2.0], abs=1e-12)
    assert found.pooled_ms[0] == pytest.approx(8.0 / 5.0)


@pytest.mark.parametrize("shape", [(1, 2, 2, 1), (2, 1, 2, 1), (2, 2, 1, 1), (2, 2, 2)])
def test_a_design_that_cannot_be_analysed_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="need shape"):
        crossed(np.zeros(shape))
    with pytest.raises(ValueError, match="two groups"):
        one_way([np.zeros(3)])
