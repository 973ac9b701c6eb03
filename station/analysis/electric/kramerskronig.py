"""Whether an impedance's phase follows from its magnitude, as that of a passive unit must."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.special

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.statistics.complexfit import check_impedance

# Beyond its ends the magnitude goes on as steeply as over this much at each end.
END_OCTAVES = 0.25
FEWEST_POINTS = 16
HALF_AREA = math.pi**2 / 4.0  # of the weight, from the frequency itself to infinity


@dataclass(frozen=True, slots=True, eq=False)
class PhaseConsistency:
    """Measured phase beside the one that the magnitude implies.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, inside the band asked for.
    expected_deg : ndarray, shape (n,)
        Phase that belongs to the magnitude.
    excess_deg : ndarray, shape (n,)
        Measured minus expected, within -180 to 180.
    worst_deg, worst_hz : float
        Largest absolute excess, and where it is.
    """

    frequency_hz: FloatArray
    expected_deg: FloatArray
    excess_deg: FloatArray
    worst_deg: float
    worst_hz: float

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "expected_deg", "excess_deg"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def phase_consistency(
    frequency_hz: FloatArray, z_ohm: ComplexArray, from_hz: float, to_hz: float
) -> PhaseConsistency:
    """Return how far the phase of an impedance is from the one its magnitude implies.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, n >= 16; best even over log frequency, 24 to 48 an octave. Time and memory grow
        with n times the number of points in the band.
    z_ohm : ndarray, shape (n,)
        Complex impedance.
    from_hz, to_hz : float
        The band that is compared; best an octave or two inside the measured one.

    Returns
    -------
    PhaseConsistency
        At the measured frequencies inside the band.

    Raises
    ------
    ValueError
        If the shapes disagree, frequencies do not rise, there are fewer than 16, or none of them
        lies in the band.

    Notes
    -----
    The impedance of a passive two-terminal network has neither poles nor zeros in the right half
    plane, so its magnitude fixes its phase. A reversed current channel is off by 180 degrees, a
    current that is read a time t late or early by 360 f t. The magnitude outside the measured
    band is not known: it is continued with the slope at each end, which costs some degrees at
    the ends and ever less inside.

    References
    ----------
    .. [1] Bode, Network Analysis and Feedback Amplifier Design, 1945, chapter XIV.
    .. [2] Brune, J. Math. Phys. 10, 1931, on impedances as positive real functions.
    """
    check_impedance(frequency_hz, z_ohm)
    inside = (frequency_hz >= from_hz) & (frequency_hz <= to_hz)
    if not inside.any():
        raise ValueError(f"no frequency lies between {from_hz} and {to_hz} Hz")
    band_hz = frequency_hz[inside]
    expected_deg = minimum_phase_deg(frequency_hz, np.abs(z_ohm), band_hz)
    turned = z_ohm[inside] * np.exp(-1j * np.radians(expected_deg))
    excess_deg = np.degrees(np.angle(turned))
    worst = int(np.argmax(np.abs(excess_deg)))
    return PhaseConsistency(
        band_hz, expected_deg, excess_deg, float(abs(excess_deg[worst])), float(band_hz[worst])
    )


def minimum_phase_deg(
    frequency_hz: FloatArray, magnitude: FloatArray, at_hz: FloatArray
) -> FloatArray:
    """Return the phase of the minimum-phase network that has a given magnitude.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero, n >= 16.
    magnitude : ndarray, shape (n,)
        Above zero, in any unit; taken as straight between its points over logarithmic axes.
    at_hz : ndarray, shape (m,)
        Where the phase is wanted, above zero.

    Returns
    -------
    ndarray, shape (m,)
        In degrees.

    Raises
    ------
    ValueError
        If the shapes disagree, frequencies do not rise, a value is not above zero, or there are
        fewer than 16.

    Notes
    -----
    Over u = ln(f/f0), phase is the slope of ln|Z| weighted with ln coth(|u|/2) / π (ref. 1). The
    slope is constant between two points, so each stretch contributes the integral of the weight,
    a dilogarithm: exact for the magnitude as it is drawn, on any grid. A discrete Hilbert
    transform over log frequency is not: its weight 1/u falls off too slowly.

    References
    ----------
    .. [1] Bode, Network Analysis and Feedback Amplifier Design, 1945, chapter XIV.
    """
    check_impedance(frequency_hz, magnitude.astype(np.complex128))
    if frequency_hz.size < FEWEST_POINTS or not (np.all(magnitude > 0.0) and np.all(at_hz > 0.0)):
        raise ValueError(f"need {FEWEST_POINTS} points or more, all above zero")
    place = np.log(frequency_hz)
    level = np.log(magnitude)
    low = np.searchsorted(place, place[0] + END_OCTAVES * math.log(2.0))
    high = place.size - np.searchsorted(place, place[-1] - END_OCTAVES * math.log(2.0))
    slopes = np.concatenate(
        [
            [end_slope(place[: max(low, 2)], level[: max(low, 2)])],
            np.diff(level) / np.diff(place),
            [end_slope(place[-max(high, 2) :], level[-max(high, 2) :])],
        ]
    )
    areas = weight_area(place[None, :] - np.log(at_hz)[:, None])
    edges = np.pad(areas, ((0, 0), (1, 1)), constant_values=((0.0, 0.0), (-HALF_AREA, HALF_AREA)))
    phase_deg: FloatArray = np.degrees(np.diff(edges, axis=1) @ slopes / math.pi)
    return phase_deg


def weight_area(distance: FloatArray) -> FloatArray:
    """Return the integral of ln coth(|u|/2) from 0 to each distance; odd, ± π²/4 at infinity."""
    far = np.exp(-np.abs(distance))
    # 2 χ₂(z) = Li₂(z) - Li₂(-z), and spence(x) = Li₂(1 - x).
    remaining = scipy.special.spence(1.0 - far) - scipy.special.spence(1.0 + far)
    area: FloatArray = np.sign(distance) * (HALF_AREA - remaining)
    return area


def end_slope(place: FloatArray, level: FloatArray) -> float:
    """Return the slope of the straight line through two points or more."""
    offset = place - np.mean(place)
    return float(offset @ level / (offset @ offset))
