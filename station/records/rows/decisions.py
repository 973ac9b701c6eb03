"""What a decision rule said of a run, as the log keeps it, and back."""

from __future__ import annotations

import json

from station.judging.verdicts.verdict import Conformity, Decision
from station.records.rows.values import float_of, json_float, json_text


def decision_text(decision: Decision | None) -> str | None:
    """Return a decision as JSON, None where there was no rule.

    A conformity is [u, guard, probability, unit, at_hz, lower, upper]; "inf" stands for an open
    side, null where a number has no frequency.
    """
    if decision is None:
        return None
    conformities = {
        name: (
            json_float(found.standard_uncertainty),
            json_float(found.guard),
            json_float(found.conforming_probability),
            found.unit,
            json_float(found.at_hz),
            *(json_float(limit) for limit in found.tolerance),
        )
        for name, found in decision.conformities.items()
    }
    return json_text(
        {"rule": decision.rule, "k": decision.k, "r": decision.r, "conformities": conformities}
    )


def decision_of(text: str | None) -> Decision | None:
    """Return the decision that was stored."""
    if text is None:
        return None
    stored = json.loads(text)
    conformities = {
        name: Conformity(
            float_of(standard),
            float_of(guard),
            float_of(probability),
            unit,
            None if at_hz is None else float_of(at_hz),
            (float_of(lower), float_of(upper)),
        )
        for name, (standard, guard, probability, unit, at_hz, lower, upper) in stored[
            "conformities"
        ].items()
    }
    return Decision(stored["rule"], stored["k"], stored["r"], conformities)
