"""Averages over bands of a spectrum with evenly spaced bins, as fast as one running sum."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.signals.spectra import phase_ramp

ScalarT = TypeVar("ScalarT", np.float64, np.complex128)


def band_power(
    power: FloatArray, step_hz: float, lower_hz: FloatArray, upper_hz: FloatArray
) -> FloatArray:
    """Return the mean power in each band.

    Parameters
    ----------
    power : ndarray, shape (n,)
        Power at 0, step_hz, 2 step_hz, ...
    step_hz : float
        Distance of two bins.
    lower_hz, upper_hz : ndarray, shape (m,)
        Edges of the bands; bands may overlap, and be narrower than a bin.

    Returns
    -------
    ndarray, shape (m,)
        Mean over frequency, in the unit of `power`. Between bins the power runs straight, so that
        edges need not fall on bins.

    Raises
    ------
    ValueError
        If a band is empty or reaches beyond the spectrum.

    References
    ----------
    .. [1] IEC 61260-1:2014: what an ideal band filter passes of a flat excitation.
    """
    means: FloatArray = band_means(power, step_hz, lower_hz, upper_hz)
    # What a running sum over far louder bands rounds away must not leave a negative power.
    return np.maximum(means, 0.0)


def band_average(
    values: ComplexArray,
    step_hz: float,
    delay_s: float,
    lower_hz: FloatArray,
    upper_hz: FloatArray,
) -> ComplexArray:
    """Return the complex mean in each band of a transfer function, without its pure delay.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Transfer function at 0, step_hz, 2 step_hz, ...
    step_hz : float
        Distance of two bins.
    delay_s : float
        Removed before averaging: else a band wider than its reciprocal averages to nothing.
    lower_hz, upper_hz : ndarray, shape (m,)
        Edges of the bands.

    Returns
    -------
    ndarray, shape (m,)
        Means without the delay, in the unit of `values`.

    Raises
    ------
    ValueError
        If a band is empty or reaches beyond the spectrum.

    References
    ----------
    .. [1] Common practice, no source.
    """
    count = min(values.size, math.ceil(float(np.max(upper_hz)) / step_hz) + 1)
    turned = phase_ramp(count, step_hz, -delay_s)
    turned *= values[:count]
    return band_means(turned, step_hz, lower_hz, upper_hz)


def band_means(
    values: NDArray[ScalarT], step_hz: float, lower_hz: FloatArray, upper_hz: FloatArray
) -> NDArray[ScalarT]:
    """Return means over bands of values that run straight from bin to bin."""
    lower, upper = lower_hz / step_hz, upper_hz / step_hz
    if np.any(lower < 0.0) or np.any(upper <= lower) or np.any(upper > values.size - 1):
        raise ValueError(
            f"bands must lie between 0 Hz and {(values.size - 1) * step_hz} Hz and not be empty"
        )
    first = math.floor(float(np.min(lower)))
    part = values[first : math.ceil(float(np.max(upper))) + 1]
    running = np.zeros_like(part)
    np.cumsum(0.5 * (part[1:] + part[:-1]), out=running[1:])

    def sum_to(position: FloatArray) -> NDArray[ScalarT]:
        whole = np.minimum(np.floor(position).astype(np.intp) - first, part.size - 2)
        rest = position - first - whole
        rise = part[whole + 1] - part[whole]
        total: NDArray[ScalarT] = running[whole] + rest * (part[whole] + 0.5 * rest * rise)
        return total

    means: NDArray[ScalarT] = (sum_to(upper) - sum_to(lower)) / (upper - lower)
    return means
