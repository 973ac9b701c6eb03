"""Every hypothesis fitted to what was measured, all at once.

Each minimises chi-square plus what it costs to leave the expected values (the logarithm of a
normal prior). The way from a good unit to a broken one is far and bent, so the measurement first
counts for little and then for more (annealing), from starts that a dictionary of single faults
suggests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import ComplexArray, FloatArray
from station.diagnosis.circuit.network import Network
from station.diagnosis.circuit.solver import impedance_ohm
from station.diagnosis.fits.evidence import Evidence
from station.diagnosis.fits.hypotheses import Hypothesis
from station.diagnosis.fits.plausibility import cost_of
from station.diagnosis.fits.residuals import Residuals, bounds_of, residuals, wrapped

STAGES = ((0.003, 3), (0.05, 4))  # weight of the measurement, steps
STAGES_EVERY, FIRST_EVERY = 4, 2  # so many frequencies do in the stages, and in the first steps
FIRST_STEPS, LAST_STEPS = 4, 12
HOPELESS_FROM = 300.0  # of chi-square behind the best after the first steps
DONE = 1e-2  # of chi-square, in a step
FIRST_DAMPING, LESS, MORE = 1e-2, 0.2, 10.0
LONGEST_STEP = 1.5  # of a variable
NEARBY_KEPT = 10  # hypotheses tried from a good unit
KEPT_AFTER_STAGES = 12  # starts that are fitted to the end


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A hypothesis fitted.

    Parameters
    ----------
    chi_square : float
        With the priors and the hypothesis' own cost.
    left_square : float
        What is left of it when what is accused costs nothing: with one fault, as much as of a good
        unit.
    variables : ndarray, shape (n_variables,)
        Most likely values.
    spread : ndarray, shape (n_variables,)
        Their standard uncertainty.
    """

    hypothesis: Hypothesis
    chi_square: float
    left_square: float
    variables: FloatArray
    spread: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Variants under way: which hypothesis each belongs to, and its priors."""

    owner: NDArray[np.intp]
    mean: FloatArray
    sigma: FloatArray

    def some(self, kept: NDArray[np.intp]) -> Batch:
        """Return the batch with some variants only."""
        return Batch(self.owner[kept], self.mean[kept], self.sigma[kept])

    def away(self, variables: FloatArray) -> FloatArray:
        """Return how many standard deviations variables are from what is expected."""
        return np.asarray((variables - self.mean) / np.where(self.sigma > 0.0, self.sigma, 1.0))


def fitted(
    network: Network,
    evidence: Evidence,
    hypotheses: Sequence[Hypothesis],
    starts: Sequence[tuple[int, FloatArray]],
) -> list[Fit]:
    """Return the fits of the hypotheses that are left at the end, the best first.

    `starts` are pairs of a hypothesis' position and variables; a hypothesis may have several.
    Those that would explain a small fault are tried besides, from the best unit inside its
    tolerances. That nothing is wrong, the first hypothesis, is always among the fits.
    """
    whole = batch_of(hypotheses, [0])
    good, found = descended(
        network, evidence, whole, np.zeros((1, len(network.variables))), 1.0, LAST_STEPS
    )
    silent = thinned(without_levels(evidence), STAGES_EVERY)
    variables, owners = annealed(network, silent, hypotheses, starts)
    nearby = likely_from(hypotheses, good, found)
    batch = batch_of(hypotheses, [*owners, *nearby])
    variables = np.concatenate((variables, np.repeat(good, len(nearby), axis=0)))
    fewer = thinned(evidence, FIRST_EVERY)
    variables, last = descended(network, fewer, batch, variables, 1.0, FIRST_STEPS)
    total = objective(batch, variables, last, 1.0)
    near = best_of_each(batch.owner, total, HOPELESS_FROM)
    batch, variables = batch.some(near), variables[near]
    variables, last = descended(network, evidence, batch, variables, 1.0, LAST_STEPS)
    fits = [
        *fits_of(network, hypotheses, whole, good, found),
        *fits_of(network, hypotheses, batch, variables, last),
    ]
    return sorted(fits, key=lambda fit: fit.chi_square)


def annealed(
    network: Network,
    evidence: Evidence,
    hypotheses: Sequence[Hypothesis],
    starts: Sequence[tuple[int, FloatArray]],
) -> tuple[FloatArray, list[int]]:
    """Return the most promising variables, and the hypotheses they belong to."""
    batch = batch_of(hypotheses, [at for at, _ in starts])
    variables = np.array([start for _, start in starts])
    for weight, steps in STAGES:
        variables, found = descended(network, evidence, batch, variables, weight, steps)
    costs = np.array([hypotheses[at].cost for at in batch.owner])
    total = objective(batch, variables, found, STAGES[-1][0]) + costs
    kept = best_of_each(batch.owner, total)[:KEPT_AFTER_STAGES]
    return variables[kept], [int(owner) for owner in batch.owner[kept]]


def good_fit(
    network: Network, evidence: Evidence, nothing: Hypothesis
) -> tuple[FloatArray, ComplexArray, float]:
    """Return a good unit's variables, ln(measured/model) that they leave, and its chi-square."""
    batch = batch_of([nothing], [0])
    start = np.zeros((1, len(network.variables)))
    variables, found = descended(network, evidence, batch, start, 1.0, LAST_STEPS)
    z_ohm = impedance_ohm(network, variables, evidence.frequency_hz)
    left = wrapped(evidence.ln_z - np.log(z_ohm[0]))
    return variables[0], left, float(objective(batch, variables, found, 1.0)[0])


def batch_of(hypotheses: Sequence[Hypothesis], owners: Sequence[int]) -> Batch:
    """Return a batch with one variant for each of some hypotheses."""
    return Batch(
        np.array(owners, dtype=np.intp),
        np.array([hypotheses[at].mean for at in owners]),
        np.array([hypotheses[at].sigma for at in owners]),
    )


def likely_from(hypotheses: Sequence[Hypothesis], good: FloatArray, found: Residuals) -> list[int]:
    """Return the hypotheses that gain most by their first step from a good unit."""
    owners = [at for at, one in enumerate(hypotheses) if one.parts and not np.any(one.mean)]
    batch = batch_of(hypotheses, owners)
    gradient, curvature = normal_equations(batch, np.repeat(good, len(owners), axis=0), found, 1.0)
    step = np.linalg.solve(curvature, gradient[:, :, np.newaxis])[:, :, 0]
    away = batch.away(np.repeat(good, len(owners), axis=0))
    left = np.einsum("bv,bv->b", away, away) - np.einsum("bv,bv->b", step, gradient)
    left += np.array([hypotheses[at].cost for at in owners])
    return [owners[at] for at in np.argsort(left)[:NEARBY_KEPT]]


def thinned(evidence: Evidence, every: int) -> Evidence:
    """Return fewer frequencies, each of which counts for what it stands for."""
    return replace(
        evidence,
        frequency_hz=evidence.frequency_hz[::every],
        ln_z=evidence.ln_z[::every],
        sigma=evidence.sigma[::every] / np.sqrt(every),
    )


def without_levels(evidence: Evidence) -> Evidence:
    """Return what was measured but the sections' levels."""
    return replace(evidence, level_db=np.full_like(evidence.level_db, np.nan))


def best_of_each(
    owner: NDArray[np.intp], total: FloatArray, within: float = np.inf
) -> NDArray[np.intp]:
    """Return one variant of each hypothesis, the best first, none further than `within` behind."""
    kept: dict[int, int] = {}
    for at in np.argsort(total):
        if total[at] < np.min(total) + within:
            kept.setdefault(int(owner[at]), int(at))
    return np.array(list(kept.values()), dtype=np.intp)


def objective(batch: Batch, variables: FloatArray, found: Residuals, weight: float) -> FloatArray:
    """Return what is minimised, for every variant."""
    away = batch.away(variables)
    return np.asarray(weight * found.chi_square + np.einsum("bv,bv->b", away, away))


def descended(
    network: Network,
    evidence: Evidence,
    batch: Batch,
    variables: FloatArray,
    weight: float,
    steps: int,
) -> tuple[FloatArray, Residuals]:
    """Return variables after some damped steps of Gauss and Newton (Marquardt, 1963).

    A variant that has arrived takes no more steps.
    """
    variables = variables.copy()
    found = residuals(network, evidence, variables)
    damping = np.full(variables.shape[0], FIRST_DAMPING)
    value = objective(batch, variables, found, weight)
    bounds = bounds_of(network)
    moving = np.arange(variables.shape[0])
    for _ in range(steps):
        some, now = batch.some(moving), found if moving.size == value.size else found.some(moving)
        step = step_of(some, variables[moving], now, weight, damping[moving])
        tried = bounds.kept(variables[moving] + step)
        there = residuals(network, evidence, tried)
        new = objective(some, tried, there, weight)
        better = new < value[moving]
        gained = value[moving] - new
        at = moving[better]
        variables[at], value[at] = tried[better], new[better]
        found.replace(at, there, better)
        damping[moving] *= np.where(better, LESS, MORE)
        moving = moving[np.abs(gained) >= DONE]
        if moving.size == 0:
            break
    return variables, found


def step_of(
    batch: Batch, variables: FloatArray, found: Residuals, weight: float, damping: FloatArray
) -> FloatArray:
    """Return the next step of every variant."""
    gradient, curvature = normal_equations(batch, variables, found, weight)
    diagonal = np.einsum("bvv->bv", curvature)
    diagonal *= 1.0 + damping[:, np.newaxis]
    step = -np.linalg.solve(curvature, gradient[:, :, np.newaxis])[:, :, 0] * batch.sigma
    longest = np.max(np.abs(step), axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, LONGEST_STEP / np.maximum(longest, 1e-12)))


def normal_equations(
    batch: Batch, variables: FloatArray, found: Residuals, weight: float
) -> tuple[FloatArray, FloatArray]:
    """Return gradient and curvature of half the objective, in standard deviations."""
    gradient, curvature = found.normal_equations(np.sqrt(weight) * batch.sigma)
    gradient *= np.sqrt(weight)
    gradient += batch.away(variables)
    np.einsum("bvv->bv", curvature)[:] += 1.0
    return gradient, curvature


def covariance_of(batch: Batch, variables: FloatArray, found: Residuals) -> FloatArray:
    """Return the variances and covariances of the variables, in units of what is expected."""
    _, curvature = normal_equations(batch, variables, found, 1.0)
    return np.asarray(np.linalg.inv(curvature))


def fits_of(
    network: Network,
    hypotheses: Sequence[Hypothesis],
    batch: Batch,
    variables: FloatArray,
    found: Residuals,
) -> list[Fit]:
    """Return every variant with its uncertainty."""
    value = objective(batch, variables, found, 1.0)
    squared = batch.away(variables) ** 2
    covariance = covariance_of(batch, variables, found)
    spread = np.sqrt(np.einsum("bvv->bv", covariance)) * batch.sigma
    return [
        Fit(
            hypotheses[owner],
            float(value[at]) + cost_of(network, hypotheses[owner], variables[at]),
            float(value[at] - np.sum(squared[at, list(hypotheses[owner].accused)])),
            variables[at],
            spread[at],
        )
        for at, owner in enumerate(batch.owner)
    ]
