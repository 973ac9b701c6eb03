"""Whether a second part must be off as well: what it would explain beside the best suspect."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.diagnosis.circuit.network import Network
from station.diagnosis.fits.evidence import Evidence
from station.diagnosis.fits.fitting import (
    LAST_STEPS,
    Batch,
    Fit,
    covariance_of,
    descended,
    normal_equations,
    objective,
)
from station.diagnosis.fits.hypotheses import Hypothesis, Kind
from station.diagnosis.fits.residuals import Residuals, residuals

TRIED = 6  # second parts that are fitted, of all that are looked at


def second_gain(
    network: Network, evidence: Evidence, hypotheses: Sequence[Hypothesis], best: Fit
) -> tuple[float, str]:
    """Return what one more part that may be off explains, and which part that is.

    In chi-square, less what so much freedom gains by chance. All are judged by their first step
    from the best fit; the most promising are then fitted.
    """
    others = [
        one
        for one in hypotheses
        if one.kind is Kind.OFF and one.parts[0] not in best.hypothesis.parts
    ]
    sigma = np.maximum([one.sigma for one in others], best.hypothesis.sigma)
    mean = np.repeat(best.hypothesis.mean[np.newaxis], len(others), axis=0)
    accused = np.array([one.accused[0] for one in others])
    batch = Batch(np.arange(len(others)), mean, sigma)
    start = np.repeat(best.variables[np.newaxis], len(others), axis=0)
    found = residuals(network, evidence, best.variables[np.newaxis])
    own = Batch(np.zeros(1, dtype=np.intp), mean[:1], best.hypothesis.sigma[np.newaxis])
    now = float(objective(own, best.variables[np.newaxis], found, 1.0)[0])
    gradient, curvature = normal_equations(batch, start, found, 1.0)
    step = np.linalg.solve(curvature, gradient[:, :, np.newaxis])[:, :, 0]
    expected = objective(batch, start, found, 1.0) - np.einsum("bv,bv->b", step, gradient)
    kept = np.argsort(expected)[:TRIED]
    some = batch.some(kept)
    variables, there = descended(network, evidence, some, start[kept], 1.0, LAST_STEPS)
    reached = objective(some, variables, there, 1.0)
    gain = now - reached - chance_gain(some, variables, there, accused[kept])
    most = int(np.argmax(gain))
    return float(gain[most]), others[kept[most]].parts[0]


def chance_gain(
    batch: Batch, variables: FloatArray, found: Residuals, accused: NDArray[np.intp]
) -> FloatArray:
    """Return how much chi-square what is accused may gain by chance, for every variant.

    What is known well has many values to choose from: the Occam factor of Laplace's approximation
    (MacKay, Neural Computation 4(3), 1992, from memory).
    """
    every = np.arange(accused.size)
    narrowed = covariance_of(batch, variables, found)[every, accused, accused]
    return -np.log(narrowed)
