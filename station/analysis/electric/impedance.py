"""Impedance at the unit's terminals: curve and minimum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.plan import ImpedancePlan
from station.analysis.signals.bands import band_centres
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import gated_transfer
from station.errors import NoSignalError

# Values are read by a local polynomial over at least this many bins to either side.
READ_BINS = 2.5
READ_OCTAVES = 1.0 / 48.0
READ_POINTS = 15
READ_DEGREE = 4
RIDGE = 1e-12
MARGIN_OCTAVES = 1.0 / 24.0
# The minimum is searched among the bins, then read on a grid around the lowest one.
MINIMUM_OCTAVES = 1.0 / 12.0
MINIMUM_POINTS = 17
# A parabola over so many points of the grid to either side: through the lowest and its two
# neighbours alone it would read low by more than the noise, for the lowest is so by chance.
PARABOLA_POINTS = 4
# A current that a unit draws follows the voltage. Of a broken sense wire's noise the gate lets
# pass only the share of time it is open.
UNEXPLAINED_RATIO = 0.5
EXPLAINED_BINS = 2000
LEAST_SIEMENS = 1e-9  # a gigaohm: less conducts nowhere in a loudspeaker, nor in its leads


@dataclass(frozen=True, slots=True, eq=False)
class Minimum:
    """The lowest magnitude of an impedance.

    Parameters
    ----------
    ohm, hz : float
        How low, and where.
    bins : ndarray of int, shape (k,)
        The bins it was read from.
    per_ohm : ndarray, shape (k,)
        How a small change of Z in each of them moves `ohm`: the sum of the real parts of the
        products.
    """

    ohm: float
    hz: float
    bins: NDArray[np.intp]
    per_ohm: ComplexArray

    def __post_init__(self) -> None:
        for name in ("bins", "per_ohm"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class ImpedanceResult:
    """Impedance as a curve, its minimum, and every bin of it.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Band centres.
    magnitude_ohm, phase_deg : ndarray, shape (n,)
        At the band centres; phase within -180 to 180.
    minimum : Minimum
        The lowest magnitude in the range the plan searches.
    z_frequency_hz : ndarray, shape (m,)
        Evenly spaced.
    z_ohm : ndarray, shape (m,)
        Complex impedance.
    """

    frequency_hz: FloatArray
    magnitude_ohm: FloatArray
    phase_deg: FloatArray
    minimum: Minimum
    z_frequency_hz: FloatArray
    z_ohm: ComplexArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "magnitude_ohm", "phase_deg", "z_frequency_hz", "z_ohm"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def minimum_ohm(self) -> float:
        """The lowest magnitude."""
        return self.minimum.ohm

    @property
    def minimum_hz(self) -> float:
        """Where it is."""
        return self.minimum.hz


def impedance(spectra: Spectra, plan: ImpedancePlan) -> ImpedanceResult:
    """Return the impedance between the terminals.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with voltage and current.
    plan : ImpedancePlan
        Bands, gate, and the range in which the minimum is searched.

    Returns
    -------
    ImpedanceResult
        The reciprocal of the gated admittance, at the band centres.

    Raises
    ------
    NoSignalError
        If no current flows that follows the voltage, or the recording is shorter than the sweep.
    ValueError
        If there is no current channel, or a frequency lies outside the sweep, or a range is empty.

    Notes
    -----
    A band's value is that of Z at its centre, not a mean over the band: a mean of |Z| reads a
    resonance of Q 5 about one per cent low in twelfth octaves, one of |Z|^2 high in a dip. To use
    the neighbouring bins against noise all the same, a polynomial of fourth degree is fitted to
    complex Z over 1/24 octave (ref. 2) and read at the centre; at the lowest frequencies, where so
    few bins stand, it passes through the five nearest ones.

    References
    ----------
    .. [1] IEC 60268-5, clause on rated impedance and impedance curve.
    .. [2] Savitzky, Golay, Anal. Chem. 36(8), 1964, doi:10.1021/ac60214a047.
    """
    if not plan.from_hz < plan.to_hz or not plan.minimum_from_hz < plan.minimum_to_hz:
        raise ValueError("the plan's frequencies must rise")
    lowest_hz = min(plan.from_hz, plan.minimum_from_hz)
    highest_hz = max(plan.to_hz, plan.minimum_to_hz)
    if lowest_hz < spectra.sweep.start_hz or highest_hz > spectra.sweep.stop_hz:
        raise ValueError(f"{lowest_hz} to {highest_hz} Hz is not inside the sweep")
    if spectra.n < spectra.sweep.sweep_samples:
        raise NoSignalError("The recording is shorter than the sweep.", "Measure again.")
    admittance_s = gated_transfer(spectra, "current", plan.gate_s).values
    bins = bins_between(spectra, lowest_hz, highest_hz)
    check_current(spectra, admittance_s, bins)
    frequency_hz = spectra.frequency_hz[bins]
    z_ohm = 1.0 / admittance_s[bins]
    centres_hz = band_centres(plan.from_hz, plan.to_hz, plan.bands_per_octave)
    at_centres = values_at(frequency_hz, z_ohm, centres_hz)
    minimum = minimum_between(frequency_hz, z_ohm, plan.minimum_from_hz, plan.minimum_to_hz)
    return ImpedanceResult(
        centres_hz,
        np.abs(at_centres),
        np.degrees(np.angle(at_centres)),
        minimum,
        frequency_hz,
        z_ohm,
    )


def bins_between(spectra: Spectra, from_hz: float, to_hz: float) -> slice:
    """Return the bins of a range, with enough beside it to read at its ends."""
    step_hz = spectra.step_hz
    spare_bins = math.ceil(READ_BINS)
    first = math.floor(from_hz * 2.0**-MARGIN_OCTAVES / step_hz) - spare_bins
    last = math.ceil(to_hz * 2.0**MARGIN_OCTAVES / step_hz) + spare_bins
    return slice(max(first, 1), min(last + 1, spectra.frequency_hz.size))


def check_current(spectra: Spectra, admittance_s: ComplexArray, bins: slice) -> None:
    """Raise NoSignalError if the current is not what the admittance makes of the voltage."""
    stride = max(1, (bins.stop - bins.start) // EXPLAINED_BINS)
    some = slice(bins.start, bins.stop, stride)
    current_a = spectra.by_role["current"][some]
    rest_a = current_a - admittance_s[some] * spectra.by_role["voltage"][some]
    rest, whole = np.linalg.norm(rest_a), np.linalg.norm(current_a)
    faintest = float(np.min(np.abs(admittance_s[bins])))
    if not rest < UNEXPLAINED_RATIO * whole or faintest < LEAST_SIEMENS:
        raise NoSignalError(
            "No current follows the voltage.", "Check the leads to the unit and the current sense."
        )


def values_at(frequency_hz: FloatArray, z_ohm: ComplexArray, at_hz: FloatArray) -> ComplexArray:
    """Return the values of local polynomials of fourth degree at some frequencies."""
    index, weights = reading_weights(frequency_hz, at_hz)
    values: ComplexArray = np.einsum("ij,ij->i", weights, z_ohm[index])
    return values


def reading_weights(
    frequency_hz: FloatArray, at_hz: FloatArray
) -> tuple[NDArray[np.intp], FloatArray]:
    """Return which bins a value is read from, and with which weights, each of shape (n, 15)."""
    step_hz = frequency_hz[1] - frequency_hz[0]
    half_hz = np.maximum(at_hz * (2.0 ** (0.5 * READ_OCTAVES) - 1.0), READ_BINS * step_hz)
    wanted_hz = at_hz[:, None] + half_hz[:, None] * np.linspace(-1.0, 1.0, READ_POINTS)
    index = np.rint((wanted_hz - frequency_hz[0]) / step_hz).astype(np.intp)
    index = np.clip(index, 0, frequency_hz.size - 1)
    place = (frequency_hz[index] - at_hz[:, None]) / half_hz[:, None]
    powers = np.stack([place**power for power in range(READ_DEGREE + 1)], axis=2)
    # Least squares by normal equations; the value at place 0 is the first coefficient alone.
    # The trace on the diagonal only matters where a short sweep leaves fewer than five bins.
    normal = np.einsum("ijk,ijl->ikl", powers, powers) + RIDGE * np.eye(READ_DEGREE + 1)
    first = np.zeros((at_hz.size, READ_DEGREE + 1, 1))
    first[:, 0] = 1.0
    weights: FloatArray = np.einsum("ijk,ik->ij", powers, np.linalg.solve(normal, first)[:, :, 0])
    return index, weights


def minimum_between(
    frequency_hz: FloatArray, z_ohm: ComplexArray, from_hz: float, to_hz: float
) -> Minimum:
    """Return the lowest magnitude in a range."""
    first, stop = np.searchsorted(frequency_hz, (from_hz, to_hz))
    around_hz = frequency_hz[first + int(np.argmin(np.abs(z_ohm[first : max(stop, first + 1)])))]
    reach = 2.0**MINIMUM_OCTAVES
    grid_hz = np.geomspace(
        max(from_hz, around_hz / reach), min(to_hz, around_hz * reach), MINIMUM_POINTS
    )
    index, weights = reading_weights(frequency_hz, grid_hz)
    read_ohm = np.einsum("ij,ij->i", weights, z_ohm[index])
    magnitude_ohm = np.abs(read_ohm)
    lowest = int(np.argmin(magnitude_ohm))
    points = min(PARABOLA_POINTS, lowest, MINIMUM_POINTS - 1 - lowest)
    near = slice(lowest - points, lowest + points + 1)
    place, shares = vertex(magnitude_ohm[near])
    along = shares[:, np.newaxis] * np.conj(read_ohm[near] / magnitude_ohm[near])[:, np.newaxis]
    bins, first_of = np.unique(index[near], return_inverse=True)
    per_ohm = np.zeros(bins.size, dtype=np.complex128)
    np.add.at(per_ohm, first_of.ravel(), (along * weights[near]).ravel())
    ratio = grid_hz[1] / grid_hz[0]
    hz = float(grid_hz[lowest] * ratio**place)
    return Minimum(float(shares @ magnitude_ohm[near]), hz, bins, per_ohm)


def vertex(values: FloatArray) -> tuple[float, FloatArray]:
    """Return where a parabola through values is lowest, from their middle, and how it weighs them.

    The weighted sum is the parabola's value there. A single value is its own vertex, and so is the
    middle of values that do not curve upwards.
    """
    points = values.size // 2
    place = np.arange(-points, points + 1, dtype=np.float64)
    powers = place[:, np.newaxis] ** np.arange(3)
    inverse = np.linalg.pinv(powers)
    _, slope, curvature = inverse @ values
    if points == 0 or not curvature > 0.0:
        return 0.0, np.where(place == 0.0, 1.0, 0.0)
    at = float(np.clip(-0.5 * slope / curvature, -points, points))
    weights: FloatArray = at ** np.arange(3) @ inverse
    return at, weights
