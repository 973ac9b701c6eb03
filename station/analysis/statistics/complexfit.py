"""Least squares on a complex impedance, with the uncertainty of what it finds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import scipy.optimize

from station.analysis.arrays import ComplexArray, FloatArray, read_only

# Maps parameters, shape (p,), to the impedance, shape (n,), and its derivatives, shape (n, p).
Model: TypeAlias = Callable[[FloatArray], tuple[ComplexArray, ComplexArray]]


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The parameters that leave the least squares.

    Parameters
    ----------
    parameters : ndarray, shape (p,)
        In the model's own units.
    covariance : ndarray, shape (p, p)
        Of the parameters, scaled by what the fit leaves.
    degrees_of_freedom : float
        Real values fitted minus parameters.
    residual_ratio : float
        Standard deviation of the real, and of the imaginary, part of what is left, over |Z|.
    """

    parameters: FloatArray
    covariance: FloatArray
    degrees_of_freedom: float
    residual_ratio: float

    def __post_init__(self) -> None:
        for name in ("parameters", "covariance"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def relative_fit(model: Model, z_ohm: ComplexArray, start: FloatArray) -> Fit:
    """Return the parameters for which a model comes nearest to a measured impedance.

    Parameters
    ----------
    model : callable
        Impedance in Ω, and its derivatives, from the parameters.
    z_ohm : ndarray, shape (n,)
        Measured; none of it zero, and 2 n > p.
    start : ndarray, shape (p,)
        Where to begin.

    Returns
    -------
    Fit
        Least squares of real and imaginary part, each relative to the measured |Z|: the noise of
        both channels is in proportion to what they read, so peaks and dips weigh the same.

    Raises
    ------
    ValueError
        If there are no more values than parameters.

    References
    ----------
    .. [1] JCGM 100:2008, H.3, for the covariance from the residuals of a least-squares fit.
    .. [2] Moré, in Lecture Notes in Mathematics 630, 1978, on the Levenberg-Marquardt method.
    """
    degrees = 2.0 * z_ohm.size - start.size
    if degrees <= 0.0:
        raise ValueError(f"{2 * z_ohm.size} values cannot fix {start.size} parameters")
    size_ohm = np.abs(z_ohm)

    def left(parameters: FloatArray) -> FloatArray:
        return real_parts((model(parameters)[0] - z_ohm) / size_ohm)

    def slopes(parameters: FloatArray) -> FloatArray:
        return real_parts(model(parameters)[1] / size_ohm[:, None])

    found = scipy.optimize.least_squares(left, start, jac=slopes, method="lm", x_scale="jac")
    variance = 2.0 * float(found.cost) / degrees
    return Fit(found.x, variance * inverse_of(found.jac), degrees, math.sqrt(variance))


def inverse_of(slopes: FloatArray) -> FloatArray:
    """Return the inverse of the normal matrix, whatever the parameters' units."""
    sizes = np.linalg.norm(slopes, axis=0)
    sizes = np.where(sizes > 0.0, sizes, 1.0)
    even = slopes / sizes
    inverse: FloatArray = np.linalg.pinv(even.T @ even, hermitian=True) / np.outer(sizes, sizes)
    return inverse


def real_parts(values: ComplexArray) -> FloatArray:
    """Return the real parts, and after them the imaginary parts."""
    return np.concatenate([values.real, values.imag])


def check_impedance(frequency_hz: FloatArray, z_ohm: ComplexArray) -> None:
    """Raise ValueError unless these are an impedance over rising frequencies above zero."""
    if frequency_hz.ndim != 1 or frequency_hz.shape != z_ohm.shape:
        raise ValueError(f"need two shapes (n,); got {frequency_hz.shape} and {z_ohm.shape}")
    if frequency_hz.size == 0 or frequency_hz[0] <= 0.0 or np.any(np.diff(frequency_hz) <= 0.0):
        raise ValueError("need rising frequencies above zero")
    if not np.isfinite(z_ohm).all() or not z_ohm.all():
        raise ValueError("need an impedance that is finite and nowhere zero")
