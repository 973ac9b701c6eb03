"""Covariances: how the uncertainties of correlated inputs carry over to several outputs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from station.analysis.arrays import FloatArray

STEP_OF_A_CERTAIN_VALUE = float(np.cbrt(np.finfo(np.float64).eps))
LARGEST_ROUNDING = 1e-9  # by which a correlation matrix may miss what it must be


def sensitivities(
    function: Callable[[FloatArray], FloatArray],
    values: FloatArray,
    standard_uncertainties: FloatArray,
) -> FloatArray:
    """Return the partial derivatives of a function, seen over the inputs' own uncertainties.

    Parameters
    ----------
    function : callable
        Maps an array of shape (n,) to one of shape (m,); in any units.
    values : ndarray, shape (n,)
        Where to differentiate.
    standard_uncertainties : ndarray, shape (n,)
        Each input is moved by this much up and down; one that is certain, by a hair.

    Returns
    -------
    ndarray, shape (m, n)
        Sensitivity coefficients.

    Raises
    ------
    ValueError
        If the shapes disagree.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3, note 2.
    """
    if values.ndim != 1 or values.shape != standard_uncertainties.shape:
        raise ValueError(
            f"need two shapes (n,); got {values.shape} and {standard_uncertainties.shape}"
        )
    hair = STEP_OF_A_CERTAIN_VALUE * np.maximum(np.abs(values), STEP_OF_A_CERTAIN_VALUE)
    steps = np.where(standard_uncertainties > 0.0, standard_uncertainties, hair)
    shifts = np.diag(steps)
    columns = [
        (function(values + shift) - function(values - shift)) / (2.0 * step)
        for shift, step in zip(shifts, steps, strict=True)
    ]
    return np.stack(columns, axis=-1)


def covariance_of(standard_uncertainties: FloatArray, correlation: FloatArray) -> FloatArray:
    """Return the covariance matrix of inputs with given uncertainties and correlations.

    Parameters
    ----------
    standard_uncertainties : ndarray, shape (n,)
        In the inputs' units.
    correlation : ndarray, shape (n, n)
        Correlation coefficients, ratios.

    Returns
    -------
    ndarray, shape (n, n)
        In the products of the inputs' units.

    Raises
    ------
    ValueError
        If shapes disagree, or the matrix is none of correlation coefficients.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2, eq. (14).
    """
    size = standard_uncertainties.size
    if standard_uncertainties.shape != (size,) or correlation.shape != (size, size):
        raise ValueError(
            f"need shapes (n,) and (n, n); got {standard_uncertainties.shape}, {correlation.shape}"
        )
    asymmetry = np.max(np.abs(correlation - correlation.T), initial=0.0)
    off_diagonal = np.max(np.abs(np.diag(correlation) - 1.0), initial=0.0)
    lowest = np.min(np.linalg.eigvalsh(correlation), initial=0.0)
    if not max(asymmetry, off_diagonal, -lowest) < LARGEST_ROUNDING:
        raise ValueError(
            "a correlation matrix is symmetric, has ones in its diagonal, no negative eigenvalue"
        )
    return correlation * np.outer(standard_uncertainties, standard_uncertainties)


def propagated_covariance(sensitivity: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the covariance matrix of outputs that depend on common inputs.

    Parameters
    ----------
    sensitivity : ndarray, shape (m, n)
        Partial derivative of each output by each input.
    covariance : ndarray, shape (n, n)
        Of the inputs.

    Returns
    -------
    ndarray, shape (m, m)
        Of the outputs.

    Raises
    ------
    ValueError
        If the shapes disagree.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2, eq. (13), and H.2.3, eq. (H.9).
    """
    if sensitivity.ndim != 2 or covariance.shape != (sensitivity.shape[1],) * 2:
        raise ValueError(
            f"need shapes (m, n) and (n, n); got {sensitivity.shape} and {covariance.shape}"
        )
    outputs: FloatArray = sensitivity @ covariance @ sensitivity.T
    return outputs


def correlation_of(covariance: FloatArray) -> FloatArray:
    """Return the correlation coefficients that a covariance matrix holds.

    Parameters
    ----------
    covariance : ndarray, shape (n, n)
        With a diagonal above zero.

    Returns
    -------
    ndarray, shape (n, n)
        Ratios.

    Raises
    ------
    ValueError
        If the matrix is not square, or a variance is not above zero.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2, eq. (14).
    """
    if covariance.ndim != 2 or covariance.shape[0] != covariance.shape[1]:
        raise ValueError(f"need shape (n, n); got {covariance.shape}")
    variance = np.diag(covariance)
    if not np.all(variance > 0.0):
        raise ValueError("need variances above zero")
    ratios: FloatArray = covariance / np.sqrt(np.outer(variance, variance))
    return ratios
