"""The JSON object that a diagnosis is printed as; its schema is documented in DEVELOPERS.md."""

from __future__ import annotations

import math
from typing import Any

from station.diagnosis.named.suspect import Diagnosis, Suspect
from station.diagnosis.named.words import blind_words, check_words, summary_words, suspect_words


def diagnosis_as_object(diagnosis: Diagnosis) -> dict[str, Any]:
    """Return a diagnosis; what is not stated becomes null."""
    return {
        "finding": diagnosis.finding.value,
        "says": summary_words(diagnosis),
        "suspects": [suspect_as_object(suspect) for suspect in diagnosis.suspects],
        "group": diagnosis.group,
        "blind": [{"part": part, "property": what} for part, what in diagnosis.blind],
        "blind_says": blind_words(diagnosis),
    }


def suspect_of(diagnosis: Diagnosis | None) -> dict[str, Any] | None:
    """Return a diagnosis that was made, None where none was due."""
    return None if diagnosis is None else diagnosis_as_object(diagnosis)


def suspect_as_object(suspect: Suspect) -> dict[str, Any]:
    """Return a suspect with the reason and the next check in words."""
    estimate = suspect.estimate
    value = None
    if estimate is not None:
        tolerance = None if math.isnan(estimate.tolerance) else estimate.tolerance
        value = {
            "value": estimate.value,
            "standard_uncertainty": estimate.uncertainty,
            "nominal": estimate.nominal,
            "tolerance_ratio": tolerance,
            "unit": estimate.unit,
        }
    return {
        "part": suspect.part,
        "beside": suspect.beside or None,
        "what": suspect.what,
        "found": suspect.found.value,
        "probability": suspect.probability,
        "estimate": value,
        "reason": suspect_words(suspect),
        "check": check_words(suspect),
    }
