"""The JSON object that one run is printed as; its schema is documented in DEVELOPERS.md."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

from station.analysis.readings import Readings
from station.judging.verdicts.risks import stated_risk
from station.judging.verdicts.verdict import Cause, Judgement
from station.records.kept.run import Run, UsedCalibration

FORMAT = 1


def run_as_json(run: Run, about_suspects: Mapping[str, Any] | None = None) -> str:
    """Return one stored run as one line of JSON; `about_suspects` is put before the verdict."""
    about = {
        "run": run.run_id,
        "attempt": run.attempt,
        "utc": run.started_utc.isoformat(),
        "simulated": run.simulated,
        "trial": run.trial,
        "set_apart": None if run.set_apart is None else run.set_apart.value,
        "operator": None
        if run.operator is None
        else {"name": run.operator.name, "badge": run.operator.badge},
        "recording": run.recording.name if run.recording else None,
        "temperature_c": run.temperature_c,
        "calibrations": {
            role: None if used is None else used_as_object(used)
            for role, used in run.setup.calibrations.items()
        },
    }
    head = {"serial": run.serial, "model": run.model, "revision": run.revision}
    return judgement_as_json(
        {**head, **about, **(about_suspects or {})}, run.readings, run.judgement
    )


def used_as_object(used: UsedCalibration) -> dict[str, Any]:
    """Return the calibration that one input was read by."""
    return {
        "id": used.calibration_id,
        "utc": used.calibrated_utc.isoformat(),
        "full_scale": used.full_scale,
        "standard_uncertainty_db": used.standard_uncertainty_db,
    }


def judgement_as_json(head: Mapping[str, Any], readings: Readings, judgement: Judgement) -> str:
    """Return a judgement with its readings as one line of JSON; `head` goes before it."""
    return json.dumps(
        {
            "format": FORMAT,
            **head,
            "verdict": judgement.verdict.value,
            "next_step": judgement.next_step,
            "decision": decision_as_object(judgement),
            "causes": [cause_as_object(cause) for cause in judgement.causes],
            "readings": readings_as_object(readings, judgement),
        },
        ensure_ascii=False,
        allow_nan=False,
    )


def decision_as_object(judgement: Judgement) -> dict[str, Any] | None:
    """Return the decision rule with the stated risk, None where there was no rule."""
    decision = judgement.decision
    if decision is None:
        return None
    risk = stated_risk(judgement)
    return {
        "rule": decision.rule,
        "r": decision.r,
        "k": decision.k,
        "risk": None
        if risk is None
        else {"whose": risk[0], "reading": risk[1], "probability": risk[2]},
        "readings": {
            name: {
                "unit": found.unit,
                "standard_uncertainty": found.standard_uncertainty,
                "guard": found.guard,
                "conforming_probability": found.conforming_probability,
                "at_hz": found.at_hz,
                "tolerance": [finite(limit) for limit in found.tolerance],
                "acceptance": [finite(limit) for limit in found.acceptance],
            }
            for name, found in decision.conformities.items()
        },
    }


def cause_as_object(cause: Cause) -> dict[str, Any]:
    """Return a cause; what is not finite becomes null."""
    return {
        "reading": cause.reading,
        "side": cause.side,
        "margin": finite(cause.margin),
        "unit": cause.unit,
        "at_hz": cause.at_hz,
        "happened": cause.happened,
        "advice": cause.advice,
    }


def readings_as_object(readings: Readings, judgement: Judgement) -> dict[str, Any]:
    """Return numbers and curves by name, with the margin of those that are judged."""
    found: dict[str, Any] = {}
    for name, number in readings.numbers.items():
        found[name] = {
            "value": finite(number.value),
            "unit": number.unit,
            "uncertainty": finite(number.uncertainty),
        }
    for name, curve in readings.curves.items():
        found[name] = {
            "hz": [float(hz) for hz in curve.frequency_hz],
            "values": [finite(float(value)) for value in curve.values],
            "unit": curve.unit,
        }
    for name, margin in judgement.margins.items():
        if name in found:
            found[name]["margin"] = finite(margin.value)
            found[name]["margin_at_hz"] = margin.at_hz
    for name, (happened, _) in readings.missing.items():
        found[name] = {"missing": happened}
    return found


def finite(value: float) -> float | None:
    """Return a value JSON can hold: null stands for what is not finite."""
    return value if math.isfinite(value) else None
