"""Guard bands and risks; JCGM 106:2012 is checked by closed forms and by drawing true values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Number, Readings
from station.errors import TextFileError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.acceptance import accepted_limits
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.bands import limits_at
from station.judging.verdicts.decisionwords import decision_sentence
from station.judging.verdicts.judge import judge
from station.judging.verdicts.risks import conforming_probability, stated_risk
from station.judging.verdicts.verdict import Judgement, Verdict
from tests.judging.conformance import EXAMPLES, ONE_LIMIT
from tests.judging.example import LIMITS

GRID_HZ = 1000.0 * 10.0 ** (np.arange(-10, 11) / 10.0)
GUARDED = """
[decision]
rule = "guarded"
k = 2.0
r = 1.0

[[decision.uncertainties]]
reading = "response"
points = [[100.0, 0.5], [1000.0, 0.1]]

[[decision.uncertainties]]
reading = "sensitivity"
standard = 0.1
"""
SIMPLE = GUARDED.replace('"guarded"', '"simple"').replace("r = 1.0\n", "")


def limits(decision: str, text: str = LIMITS) -> LimitFile:
    return limit_file_from_text(text + decision, "limits.toml")


def judged(
    decision: str, sensitivity: Number, *, dip_db: float = 0.0, text: str = LIMITS
) -> Judgement:
    level_db = np.full(21, 86.0)
    level_db[10] -= dip_db  # at 1 kHz, where the band is 84 to 88 dB
    readings = Readings(
        {"sensitivity": sensitivity, "polarity.woofer": Number(0.99, "ratio")},
        {"response": Curve(GRID_HZ, level_db, "dB")},
    )
    return judge(Measured(readings, ()), limits(decision, text))


def test_without_a_rule_nothing_is_stated() -> None:
    judgement = judged("", Number(86.9, "dB"))
    assert judgement.verdict is Verdict.PASS
    assert judgement.decision is None
    assert decision_sentence(judgement) == ""


def test_a_guard_band_of_one_expanded_uncertainty_narrows_the_limits() -> None:
    # 85 to 87 dB with U = 0.2 dB are accepted from 85.2 to 86.8 dB.
    assert judged(GUARDED, Number(86.79, "dB")).verdict is Verdict.PASS
    failed = judged(GUARDED, Number(86.81, "dB"))
    assert failed.verdict is Verdict.FAIL
    assert failed.causes[0].happened == "sensitivity is 86.8 dB, above its limit of 86.8 dB."
    assert failed.margins["sensitivity"].value == pytest.approx(-0.01)
    assert judged(SIMPLE, Number(86.81, "dB")).verdict is Verdict.PASS


def test_a_band_is_narrowed_point_by_point() -> None:
    # at 1 kHz U = 0.2 dB: accepted from 84.2 dB
    assert judged(GUARDED, Number(86.0, "dB"), dip_db=1.79).verdict is Verdict.PASS
    failed = judged(GUARDED, Number(86.0, "dB"), dip_db=1.81)
    assert failed.verdict is Verdict.FAIL
    band = failed.bands["response"]
    assert band.guard is not None
    assert band.guard[0] == pytest.approx(1.0)
    assert band.lower[0] == pytest.approx(81.0)
    assert band.lower[10] == pytest.approx(84.2)


@given(st.floats(100.0, 10_000.0))
def test_between_breakpoints_a_narrowed_band_is_exact(at_hz: float) -> None:
    plain, guarded = limits(""), accepted_limits(limits(GUARDED), {})
    hz = np.array([at_hz])
    lower, upper = limits_at(hz, plain.bands[0])
    inner_lower, inner_upper = limits_at(hz, guarded.bands[0])
    # u falls from 0.5 at 100 Hz to 0.1 at 1 kHz over log frequency, and stays; g = 2 u
    g = 2.0 * (0.5 - 0.4 * min(math.log10(at_hz / 100.0), 1.0))
    assert inner_lower[0] - lower[0] == pytest.approx(g, abs=1e-9)
    assert upper[0] - inner_upper[0] == pytest.approx(g, abs=1e-9)


def test_the_risk_of_a_pass_at_the_acceptance_limit_is_that_of_two_sigma() -> None:
    # JCGM 106:2012, 8.3.2: with g = U and k = 2 at most 1 - Phi(2) = 0.02275 (normal tables).
    risk = stated_risk(judged(GUARDED, Number(86.8, "dB")))
    assert risk is not None
    assert risk[:2] == ("consumer", "sensitivity")
    assert risk[2] == pytest.approx(0.02275, abs=1e-5)


def test_the_risk_of_a_simple_pass_at_the_limit_is_a_half() -> None:
    # JCGM 106:2012, 8.2.1: simple acceptance at the tolerance limit, shared risk.
    risk = stated_risk(judged(SIMPLE, Number(87.0, "dB")))
    assert risk is not None
    assert risk[2] == pytest.approx(0.5, abs=1e-9)


def test_a_fail_states_the_producers_risk() -> None:
    # 0.1 dB outside with u = 0.1 dB: conforms with 1 - Phi(1) = 0.1587 (normal tables).
    judgement = judged(SIMPLE, Number(87.1, "dB"))
    risk = stated_risk(judgement)
    assert risk is not None
    assert risk[:2] == ("producer", "sensitivity")
    assert risk[2] == pytest.approx(0.1587, abs=1e-4)
    assert decision_sentence(judgement) == (
        "Accepted up to the tolerance limits (U with k = 2); producer's risk 16 % by sensitivity."
    )


def test_no_risk_is_stated_for_a_fail_of_what_has_no_uncertainty() -> None:
    head, _, _ = GUARDED.partition("[[decision.uncertainties]]")
    only_sensitivity = head + GUARDED[GUARDED.rindex("[[decision.uncertainties]]") :]
    judgement = judged(only_sensitivity, Number(86.0, "dB"), dip_db=3.0)
    assert judgement.verdict is Verdict.FAIL
    assert stated_risk(judgement) is None


@pytest.mark.parametrize(
    ("value", "u", "lower", "upper"),
    [(0.9, 0.3, -1.0, 1.0), (1.2, 0.25, -1.0, 1.0), (0.0, 0.5, -math.inf, 0.7)],
)
def test_conforming_probability_is_the_share_of_true_values_inside(
    value: float, u: float, lower: float, upper: float
) -> None:
    # Independent of any formula: true values drawn about the measured one (JCGM 106, 7.2).
    true = np.random.default_rng(106).normal(value, u, 400_000)
    share = float(np.mean((true >= lower) & (true <= upper)))
    found = conforming_probability(*(np.array([x]) for x in (value, u, lower, upper)))
    assert found[0] == pytest.approx(share, abs=4.0 * math.sqrt(0.25 / 400_000))


@pytest.mark.parametrize("name", EXAMPLES)
def test_conforming_probability_is_that_of_the_guides_examples(name: str) -> None:
    value, u, lower, upper, published, digits = EXAMPLES[name]
    found = conforming_probability(*(np.array([x]) for x in (value, u, lower, upper)))
    assert round(float(found[0]), digits) == published
    # by integration of the density, as the examples are from memory
    ends = max(lower, value - 12.0 * u), min(upper, value + 12.0 * u)
    share, _ = quad(lambda x: norm.pdf(x, value, u), *ends, epsabs=1e-12)
    assert found[0] == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(("probability", "z"), ONE_LIMIT.items())
def test_one_limit_is_met_with_the_guides_probabilities(probability: float, z: float) -> None:
    # z has two decimals: its rounding moves the probability by less than 0.0015.
    found = conforming_probability(*(np.array([x]) for x in (0.0, 1.0, -np.inf, z)))
    assert found[0] == pytest.approx(probability, abs=0.0015)


def test_an_uncertainty_of_the_run_moves_its_own_limit() -> None:
    of_run = GUARDED.replace("standard = 0.1", "of_run = true")
    assert judged(of_run, Number(86.9, "dB", 0.04)).verdict is Verdict.PASS
    assert judged(of_run, Number(86.9, "dB", 0.06)).verdict is Verdict.FAIL


def test_a_run_whose_uncertainty_is_not_known_or_too_large_is_void() -> None:
    of_run = GUARDED.replace("standard = 0.1", "of_run = true")
    unknown = judged(of_run, Number(86.0, "dB"))
    assert unknown.verdict is Verdict.VOID
    assert unknown.causes[0].happened == "The recording states no uncertainty of sensitivity."
    vague = judged(of_run, Number(86.0, "dB", 0.6))
    assert vague.verdict is Verdict.VOID
    assert "too uncertain" in vague.causes[0].happened


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (("standard = 0.1", "standard = 0.5"), "its guard bands leave nothing to accept"),
        (("[1000.0, 0.1]", "[1000.0, 1.1]"), "leave nothing to accept at 1000 Hz"),
        (('reading = "sensitivity"', 'reading = "fs"'), "'fs' has no limit in this file"),
        (("standard = 0.1", "points = [[1.0, 0.1], [2.0, 0.1]]"), "sensitivity is a number"),
        (("standard = 0.1", "standard = 0.1\nof_run = true"), "exactly one of"),
        (("r = 1.0\n", ""), "r belongs to rule 'guarded'"),
        (("k = 2.0\n", ""), "k"),
        (('reading = "response"', 'reading = "sensitivity"'), "sensitivity has two uncertainties"),
        (("points = [[100.0, 0.5], [1000.0, 0.1]]", "of_run = true"), "response is a curve"),
    ],
)
def test_a_rule_that_cannot_hold_is_refused_with_its_line(
    change: tuple[str, str], fault: str
) -> None:
    with pytest.raises(TextFileError) as refused:
        limits(GUARDED.replace(*change))
    assert any(fault in line for line in refused.value.faults), refused.value.faults
    first_line = LIMITS.count("\n") + 1
    assert int(refused.value.faults[0].split(":")[1]) > first_line
