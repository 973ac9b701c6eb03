"""Whether a second part must be off as well: what it would explain beside the best suspect."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from station.diagnosis.evidence import Evidence
from station.diagnosis.fitting import (
    LAST_STEPS,
    Batch,
    Fit,
    descended,
    normal_equations,
    objective,
)
from station.diagnosis.hypotheses import Hypothesis, Kind
from station.diagnosis.network import Network
from station.diagnosis.residuals import residuals

TRIED = 3  # second parts that are fitted, of all that are looked at


def second_gain(
    network: Network, evidence: Evidence, hypotheses: Sequence[Hypothesis], best: Fit
) -> tuple[float, str]:
    """Return by how much chi-square falls when one more part may be off, and which part that is.

    All are judged by their first step from the best fit; the most promising are then fitted.
    """
    others = [
        one
        for one in hypotheses
        if one.kind is Kind.OFF and one.parts[0] not in best.hypothesis.parts
    ]
    sigma = np.maximum([one.sigma for one in others], best.hypothesis.sigma)
    mean = np.repeat(best.hypothesis.mean[np.newaxis], len(others), axis=0)
    batch = Batch(np.arange(len(others)), mean, sigma)
    start = np.repeat(best.variables[np.newaxis], len(others), axis=0)
    found = residuals(network, evidence, best.variables[np.newaxis])
    gradient, curvature = normal_equations(batch, start, found, 1.0)
    step = np.linalg.solve(curvature, gradient[:, :, np.newaxis])[:, :, 0]
    expected = objective(batch, start, found, 1.0) - np.einsum("bv,bv->b", step, gradient)
    kept = np.argsort(expected)[:TRIED]
    some = batch.some(kept)
    variables, fitted_there = descended(network, evidence, some, start[kept], 1.0, LAST_STEPS)
    reached = objective(some, variables, fitted_there, 1.0)
    own = Batch(np.zeros(1, dtype=np.intp), mean[:1], best.hypothesis.sigma[np.newaxis])
    now = objective(own, best.variables[np.newaxis], found, 1.0)[0]
    first = int(np.argmin(reached))
    return float(now - reached[first]), others[kept[first]].parts[0]
