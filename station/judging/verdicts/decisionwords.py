"""A decision rule and its risk in the words of a sentence."""

from __future__ import annotations

import math

from station.judging.verdicts.risks import stated_risk
from station.judging.verdicts.verdict import Conformity, Decision, Judgement

SMALLEST_RATIO = 1e-4  # below this a normal distribution says nothing about a real product


def decision_sentence(judgement: Judgement) -> str:
    """Return which rule decided and whose risk remains; empty where there was no rule."""
    if judgement.decision is None:
        return ""
    risk = stated_risk(judgement)
    rule = rule_words(judgement.decision)
    if risk is None:
        return f"{rule}; no risk can be stated."
    whose, reading, probability = risk
    return f"{rule}; {whose}'s risk {risk_words(probability)} by {reading}."


def rule_words(decision: Decision) -> str:
    """Return the rule."""
    if decision.r is None:
        return f"Accepted up to the tolerance limits (U with k = {decision.k:g})"
    return f"Limits moved inside by {decision.r:g} × U (k = {decision.k:g})"


def risk_words(probability: float) -> str:
    """Return a probability in percent, never finer than can be known."""
    if probability < SMALLEST_RATIO:
        return f"below {100.0 * SMALLEST_RATIO:g} %"
    return f"{100.0 * probability:.2g} %"


def interval_words(limits: tuple[float, float], found: Conformity) -> str:
    """Return limits with their unit, a side that is open as a bound."""
    lower, upper = limits
    digits = max(0, 1 - math.floor(math.log10(found.standard_uncertainty)))
    unit = "" if found.unit == "ratio" else f" {found.unit}"
    if math.isinf(lower):
        return f"up to {upper:.{digits}f}{unit}"
    if math.isinf(upper):
        return f"from {lower:.{digits}f}{unit}"
    return f"{lower:.{digits}f} to {upper:.{digits}f}{unit}"
