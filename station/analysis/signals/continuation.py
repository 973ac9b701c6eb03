"""A transfer function continued below the sweep's start, where nothing was excited."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.statistics.complexfit import real_parts

# Orders of numerator and denominator, tried in turn: a vented box behind a high-pass, a closed
# box, and a power series, which has no poles and always holds.
ORDERS = ((3, 3), (2, 2), (5, 0))
REWEIGHTED_TIMES = 3
# A pole that rings longer is noise: no loudspeaker has such a resonance below its range.
SHARPEST_POLE_Q = 10.0
SPARE_POINTS = 2


def continued_below(above: ComplexArray, stop: int) -> ComplexArray:
    """Return a transfer function below its first known bin, from the bins that follow it.

    Parameters
    ----------
    above : ndarray, shape (m,)
        Values on the bins `stop`, `stop` + 1, ..., half an octave or so, any unit, without their
        pure delay.
    stop : int
        Index of the first known bin, above zero; bin 0 is 0 Hz.

    Returns
    -------
    ndarray, shape (stop,)
        On the bins 0 to `stop` - 1. The ratio of two polynomials of jω with real coefficients, as
        every lumped system is one: third order over third if all its poles are stable and
        damped, else second over second, else a power series of fifth order.

    Raises
    ------
    ValueError
        If there is no known bin, or `stop` is not above zero.

    Notes
    -----
    A power series alone goes wrong where the unit has a resonance near the sweep's start: for a
    vented box of 25 Hz and a sweep from 19 Hz it left 1.6 dB at 20 Hz and 0.17 dB at 40 Hz, where
    the ratio leaves 0.005 dB and 0.0005 dB.

    References
    ----------
    .. [1] Levy, "Complex-curve fitting", IRE Trans. Autom. Control AC-4, 1959.
    .. [2] Sanathanan, Koerner, IEEE Trans. Autom. Control 8(1), 1963, on the reweighting.
    """
    if above.size == 0 or stop < 1:
        raise ValueError(f"need a known bin above 0 Hz; got {above.size} from bin {stop}")
    size = float(np.max(np.abs(above)))
    if size < np.finfo(np.float64).tiny:
        return np.zeros(stop, dtype=np.complex128)
    places: ComplexArray = (1j * np.arange(stop + above.size) / stop).astype(np.complex128)
    for numerator, denominator in ORDERS:
        if above.size < numerator + denominator + 1 + SPARE_POINTS and denominator:
            continue
        found = fitted(places[stop:], above / size, numerator, denominator)
        if found.is_damped():
            break
    return size * found.at(places[:stop])


@dataclass(frozen=True, slots=True, eq=False)
class Ratio:
    """Two polynomials with real coefficients, lowest power first; the lower one begins with 1."""

    upper: FloatArray
    lower: FloatArray

    def at(self, s: ComplexArray) -> ComplexArray:
        """Return the value at complex frequencies."""
        return polynomial(self.upper, s) / self.below(s)

    def below(self, s: ComplexArray) -> ComplexArray:
        """Return the lower polynomial at complex frequencies."""
        return polynomial(self.lower, s)

    def is_damped(self) -> bool:
        """Return whether every pole decays, and none rings for long."""
        poles = np.polynomial.polynomial.polyroots(self.lower)
        return bool(np.all(-2.0 * SHARPEST_POLE_Q * poles.real > np.abs(poles)))


def polynomial(coefficients: FloatArray, s: ComplexArray) -> ComplexArray:
    """Return a real polynomial, lowest power first, at complex frequencies."""
    values = np.polynomial.polynomial.polyval(s, coefficients)
    return np.asarray(values, dtype=np.complex128)


def fitted(s: ComplexArray, values: ComplexArray, numerator: int, denominator: int) -> Ratio:
    """Return the ratio nearest to values: linear least squares of upper - values * lower.

    Divided by the lower polynomial of the round before, that is the error of the ratio itself.
    """
    powers = s[:, np.newaxis] ** np.arange(max(numerator, denominator) + 1)
    columns = np.concatenate(
        [powers[:, : numerator + 1], -values[:, np.newaxis] * powers[:, 1 : denominator + 1]],
        axis=1,
    )
    found = Ratio(np.zeros(numerator + 1), np.eye(1, denominator + 1)[0])
    for _ in range(REWEIGHTED_TIMES if denominator else 1):
        below = np.maximum(np.abs(found.below(s)), np.finfo(np.float64).tiny)
        weights: ComplexArray = (1.0 / below).astype(np.complex128)
        matrix = real_parts(columns * weights[:, np.newaxis])
        scale = np.linalg.norm(matrix, axis=0)
        scale[scale == 0.0] = 1.0
        weighed = np.linalg.lstsq(matrix / scale, real_parts(values * weights))[0] / scale
        found = Ratio(weighed[: numerator + 1], np.append(1.0, weighed[numerator + 1 :]))
    return found
