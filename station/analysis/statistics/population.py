"""A population of passed units' curves: mean, modes, and what is left beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.linalg

from station.analysis.arrays import FloatArray, read_only
from station.errors import RefusedInputError

# Spreads come from units that the modes were not fitted to: each tenth is left out once.
FOLDS = 10
FEWEST_MEMBERS = 2 * FOLDS
MEMBERS_PER_MODE = 5
SMALLEST_EXCESS = 1e-12  # of eigenvalues that are all 1, where there is nothing to draw
ARRAY_NAMES = ("frequency_hz", "mean", "modes", "mode_spread", "rest_spread", "rest_traces")


@dataclass(frozen=True, slots=True, eq=False)
class PatternModel:
    """What the curves of a production have in common, and how they vary.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising.
    mean : ndarray, shape (n,)
        Mean curve in its own unit.
    modes : ndarray, shape (k, n)
        The shapes in which the population varies, orthogonal, of length 1, the widest first.
    mode_spread : ndarray, shape (k,)
        Standard deviation of a fresh good unit along each mode, in the curve's unit.
    rest_spread : ndarray, shape (n,)
        Standard deviation of what the modes leave of a fresh good unit, in the curve's unit.
    rest_traces : ndarray, shape (3,)
        Traces of the correlation matrix of what is left, of its square and of its third power:
        they say how neighbouring frequencies move together.
    explained_ratio : float
        Share of the members' variance that the modes had to explain.
    member_ids : tuple of str
        The units that the model was made from.

    Raises
    ------
    ValueError
        If the shapes disagree, a spread is not above zero, a value is not finite, an id is
        doubled, or there are fewer members than 20 or than five for each mode.
    """

    frequency_hz: FloatArray
    mean: FloatArray
    modes: FloatArray
    mode_spread: FloatArray
    rest_spread: FloatArray
    rest_traces: FloatArray
    explained_ratio: float
    member_ids: tuple[str, ...]

    def __post_init__(self) -> None:
        points, count = self.frequency_hz.shape, self.modes.shape[:1]
        shapes = (self.mean.shape, self.rest_spread.shape, self.mode_spread.shape)
        if shapes != (points, points, count) or self.modes.shape != count + points:
            raise ValueError(f"need shapes (n,), (n,), (k,) and (k, n); got {shapes}")
        if self.rest_traces.shape != (3,):
            raise ValueError(f"need three traces; got shape {self.rest_traces.shape}")
        if not all(np.isfinite(getattr(self, name)).all() for name in ARRAY_NAMES):
            raise ValueError("all values must be finite")
        spreads = (*self.mode_spread, *self.rest_spread, *self.rest_traces)
        if not min(spreads) > 0.0 or np.any(np.diff(self.frequency_hz) <= 0.0):
            raise ValueError("need spreads above zero and rising frequencies")
        if len(set(self.member_ids)) != len(self.member_ids):
            raise ValueError("a member is doubled")
        if len(self.member_ids) < max(FEWEST_MEMBERS, MEMBERS_PER_MODE * self.mode_spread.size):
            raise ValueError(f"{len(self.member_ids)} members are too few")
        for name in ARRAY_NAMES:
            object.__setattr__(self, name, read_only(getattr(self, name)))


def pattern_model(
    frequency_hz: FloatArray,
    curves: FloatArray,
    member_ids: tuple[str, ...],
    explained_ratio: float,
) -> PatternModel:
    """Return the model of a population from the curves of units that passed.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising.
    curves : ndarray, shape (m, n)
        One row for each unit, all finite, in one unit, best dB.
    member_ids : tuple of str
        Name of each row.
    explained_ratio : float
        Share of the variance that the modes explain, between 0 and 1: the fewest modes that
        reach it are kept.

    Returns
    -------
    PatternModel
        Its spreads are those of a fresh unit: they come from members that took no part in the
        modes they were held against, and contain what the mean of m units may be off.

    Raises
    ------
    ValueError
        If shapes disagree, values are not finite, or the ratio is not inside 0 to 1.
    RefusedInputError
        If there are too few units, or the modes explain too little.

    References
    ----------
    .. [1] Jackson, Mudholkar, Technometrics 21(3), 1979, doi:10.1080/00401706.1979.10489779
    .. [2] Srivastava, J. Japan Statist. Soc. 35(2), 2005, on the unbiased trace of a square.
    .. [3] Ledoit, Wolf, J. Multivariate Anal. 88(2), 2004, on shrinking towards the identity.
    """
    if curves.ndim != 2 or curves.shape != (len(member_ids), frequency_hz.size):
        raise ValueError(f"need shape ({len(member_ids)}, {frequency_hz.size}); got {curves.shape}")
    if not np.isfinite(curves).all() or not 0.0 < explained_ratio < 1.0:
        raise ValueError("need finite curves and a ratio inside 0 to 1")
    members = len(member_ids)
    if members < FEWEST_MEMBERS:
        raise RefusedInputError(
            f"{members} units are too few to learn how the production varies.",
            f"Test {FEWEST_MEMBERS} good units or more, then try again.",
        )
    count = modes_needed(curves, explained_ratio)
    if members < MEMBERS_PER_MODE * count:
        raise RefusedInputError(
            f"The units vary in {count} independent ways, too many to learn from {members} units.",
            "Ask for a smaller share of the variance, or test more good units.",
        )
    mean, modes = modes_of(curves, count)
    scores, rest = held_out(curves, count)
    rest_spread = np.sqrt(np.mean(rest**2, axis=0))
    if not np.all(rest_spread > 0.0):
        at_hz = float(frequency_hz[int(np.argmin(rest_spread))])
        raise RefusedInputError(
            f"The curves of all units are the same at {at_hz:.0f} Hz.",
            "Use curves of units that were measured one by one.",
        )
    return PatternModel(
        frequency_hz=frequency_hz,
        mean=mean,
        modes=modes,
        mode_spread=np.sqrt(np.mean(scores**2, axis=0)),
        rest_spread=rest_spread,
        rest_traces=traces_of(rest / rest_spread),
        explained_ratio=explained_ratio,
        member_ids=member_ids,
    )


def plain_of(model: PatternModel) -> dict[str, Any]:
    """Return a model as numbers, text, lists and nothing else, fit for TOML or JSON."""
    arrays = {name: getattr(model, name).tolist() for name in ARRAY_NAMES}
    return {
        **arrays,
        "explained_ratio": model.explained_ratio,
        "member_ids": list(model.member_ids),
    }


def model_of(plain: Mapping[str, Any]) -> PatternModel:
    """Return the model that `plain_of` wrote; raise ValueError if it is none."""
    names = {*ARRAY_NAMES, "explained_ratio", "member_ids"}
    if set(plain) != names:
        raise ValueError(f"need {', '.join(sorted(names))}; got {', '.join(sorted(plain))}")
    return PatternModel(
        **{name: np.array(plain[name], dtype=np.float64) for name in ARRAY_NAMES},
        explained_ratio=float(plain["explained_ratio"]),
        member_ids=tuple(str(member) for member in plain["member_ids"]),
    )


def modes_needed(curves: FloatArray, explained_ratio: float) -> int:
    """Return how many modes explain a share of the variance; one at least."""
    centred = curves - np.mean(curves, axis=0)
    variances = np.linalg.svd(centred, compute_uv=False) ** 2
    explained = np.cumsum(variances)
    return 1 + int(np.searchsorted(explained, explained_ratio * explained[-1]))


def modes_of(curves: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Return mean and widest modes, each mode with its largest value positive."""
    mean = np.mean(curves, axis=0)
    centred = curves - mean
    size = min(centred.shape)
    wide = centred.shape[1] > centred.shape[0]
    square = centred @ centred.T if wide else centred.T @ centred
    vectors = scipy.linalg.eigh(square, subset_by_index=(size - count, size - 1))[1][:, ::-1]
    modes = (vectors.T @ centred) if wide else vectors.T
    largest = np.take_along_axis(modes, np.argmax(np.abs(modes), axis=1)[:, None], axis=1)
    modes = modes * (np.sign(largest) / np.linalg.norm(modes, axis=1, keepdims=True))
    return mean, modes


def held_out(curves: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Return scores, shape (m, k), and rest, shape (m, n), of members left out of the modes.

    Both are scaled from the mean of the members that were left to the mean of all.
    """
    members = curves.shape[0]
    scores = np.empty((members, count))
    rest = np.empty_like(curves)
    for fold in range(FOLDS):
        out = np.arange(members) % FOLDS == fold
        mean, modes = modes_of(curves[~out], count)
        left = members - np.count_nonzero(out)
        scale = np.sqrt((1.0 + 1.0 / members) / (1.0 + 1.0 / left))
        offset = scale * (curves[out] - mean)
        scores[out] = offset @ modes.T
        rest[out] = offset - scores[out] @ modes
    return scores, rest


def traces_of(rest_sigma: FloatArray) -> FloatArray:
    """Return the traces of the first three powers of the correlation between frequencies.

    The eigenvalues of a sample spread wider than the true ones, so they are drawn towards 1 (ref.
    3) until the trace of the square is its unbiased estimate (ref. 2).
    """
    members, points = rest_sigma.shape
    eigenvalues = np.zeros(points)
    eigenvalues[: min(members, points)] = scipy.linalg.svdvals(rest_sigma) ** 2 / members
    square = float(np.sum(eigenvalues**2))
    unbiased = (square - points**2 / members) * members**2 / ((members - 1.0) * (members + 2.0))
    kept = np.sqrt(np.clip((unbiased - points) / max(square - points, SMALLEST_EXCESS), 0.0, 1.0))
    drawn = kept * eigenvalues + (1.0 - kept)
    return np.array([np.sum(drawn**power) for power in (1, 2, 3)])
