"""What a unit radiates off its axis: listening window, nulls, and the back of a dipole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.signals.levelcurves import in_band, octave_weights, power_mean_db
from station.errors import NoSignalError

ON_AXIS_DEG = 0.0
STEPS_PER_PERIOD = 24  # of the highest frequency, in the search for the delay


@dataclass(frozen=True, slots=True, eq=False)
class PolarResponse:
    """Levels at several angles about one axis.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    angle_deg : ndarray, shape (k,)
        Rising; 0 is on axis, and must be there.
    level_db : ndarray, shape (k, n)
        Response at each angle, all at the same distance; NaN where it could not be computed.
    """

    frequency_hz: FloatArray
    angle_deg: FloatArray
    level_db: FloatArray

    def __post_init__(self) -> None:
        if self.level_db.shape != (self.angle_deg.size, self.frequency_hz.size):
            raise ValueError(
                f"need shape ({self.angle_deg.size}, {self.frequency_hz.size}); "
                f"got {self.level_db.shape}"
            )
        if np.any(np.diff(self.angle_deg) <= 0.0) or ON_AXIS_DEG not in self.angle_deg:
            raise ValueError("angles must rise and hold 0")
        for name in ("frequency_hz", "angle_deg", "level_db"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def at(self, angle_deg: float) -> FloatArray:
        """Return the curve at one angle; raise ValueError if it was not measured."""
        found = np.flatnonzero(self.angle_deg == angle_deg)
        if found.size == 0:
            raise ValueError(f"{angle_deg} degrees was not measured")
        curve: FloatArray = self.level_db[int(found[0])]
        return curve


def listening_window_db(polar: PolarResponse, angles_deg: Sequence[float]) -> FloatArray:
    """Return the mean response over the angles at which people listen.

    Parameters
    ----------
    polar : PolarResponse
        Measured levels.
    angles_deg : sequence of float
        Which angles belong to the window, for example 0 and ±15.

    Returns
    -------
    ndarray, shape (n,)
        Level of the mean power, every angle with the same weight, in dB; NaN where one angle's
        level is.

    Raises
    ------
    ValueError
        If an angle was not measured, comes twice, or there is none.

    References
    ----------
    .. [1] ANSI/CTA-2034-A, listening window: spatial average of the responses on axis, at ±10°
       vertically and at ±10°, ±20° and ±30° horizontally. The angles here are the caller's.
    """
    if not angles_deg or len(set(angles_deg)) != len(angles_deg):
        raise ValueError(f"need one or more different angles; got {tuple(angles_deg)}")
    levels = np.stack([polar.at(angle) for angle in angles_deg], axis=-1)
    return power_mean_db(levels, np.full(len(angles_deg), 1.0 / len(angles_deg)))


def off_axis_difference_db(polar: PolarResponse) -> FloatArray:
    """Return every response relative to the one on axis.

    Parameters
    ----------
    polar : PolarResponse
        Measured levels.

    Returns
    -------
    ndarray, shape (k, n)
        In dB; zero on axis.

    Raises
    ------
    ValueError
        Not raised: a PolarResponse always holds the axis.

    References
    ----------
    .. [1] IEC 60268-5, directional response pattern relative to the reference axis.
    """
    difference: FloatArray = polar.level_db - polar.at(ON_AXIS_DEG)
    return difference


def null_depth_db(polar: PolarResponse, null_deg: float, from_hz: float, to_hz: float) -> float:
    """Return how little a dipole radiates sideways.

    Parameters
    ----------
    polar : PolarResponse
        Measured levels.
    null_deg : float
        Where the null is, 90 or -90.
    from_hz, to_hz : float
        The band.

    Returns
    -------
    float
        Mean power at the null relative to mean power on axis, over the band's octaves, in dB:
        about -20 for a fair dipole, 0 for a panel whose back wave is gone.

    Raises
    ------
    NoSignalError
        If the band holds no point or one that is not finite.
    ValueError
        If the angle was not measured, or the band is upside down.

    References
    ----------
    .. [1] Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, 4th ed., ch. 7: a dipole
       radiates as the cosine of the angle. Power mean over a band: a choice of ours.
    """
    both = np.stack([polar.at(null_deg), polar.at(ON_AXIS_DEG)])
    inside_hz, levels = in_band(polar.frequency_hz, both, from_hz, to_hz)
    null_db, axis_db = power_mean_db(levels, octave_weights(inside_hz))
    return float(null_db - axis_db)


@dataclass(frozen=True, slots=True)
class FrontToBack:
    """How the sound behind a unit compares with the sound before it.

    Attributes
    ----------
    correlation_ratio : float
        Signed, -1 to 1: about -1 behind a dipole, about 1 where both sides are in phase.
    delay_s : float
        By how much the back arrives later than the front.
    opposite_ratio : float
        Largest correlation of the other sign within the delays allowed, as a magnitude: if it
        comes near that of `correlation_ratio`, the sign cannot be told; take a wider band.
    """

    correlation_ratio: float
    delay_s: float
    opposite_ratio: float


def front_to_back(
    frequency_hz: FloatArray,
    front: ComplexArray,
    back: ComplexArray,
    band_hz: tuple[float, float],
    longest_delay_s: float,
) -> FrontToBack:
    """Return the signed correlation between the sound before and behind a unit.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    front, back : ndarray, shape (n,)
        Complex responses to the same voltage, in Pa/V, the known flight times removed.
    band_hz : (float, float)
        From and to; the sign is sure from an octave on.
    longest_delay_s : float
        How far the two may still be apart, either way; zero or above.

    Returns
    -------
    FrontToBack
        Re sum(w front* back exp(2 pi i f tau)) over the root of the powers, with equal weight w
        for every octave, at the tau within ±longest_delay_s that makes its magnitude largest.

    Raises
    ------
    NoSignalError
        If the band holds no point, one that is not finite, or one side is silent.
    ValueError
        If shapes disagree, frequencies or band do not rise, or the delay is negative.

    References
    ----------
    .. [1] Normalised cross-correlation; for the sign of a dipole's two sides Kinsler et al.,
       Fundamentals of Acoustics, 4th ed., chapter 7.
    """
    if front.shape != frequency_hz.shape or back.shape != front.shape or longest_delay_s < 0.0:
        raise ValueError("need three shapes (n,) and a delay of zero or more")
    parts = np.stack([front.real, front.imag, back.real, back.imag])
    inside_hz, parts = in_band(frequency_hz, parts, *band_hz)
    weights = octave_weights(inside_hz)
    front_in, back_in = parts[0] + 1j * parts[1], parts[2] + 1j * parts[3]
    powers = [float(np.abs(side) ** 2 @ weights) for side in (front_in, back_in)]
    if min(powers) <= 0.0:
        raise NoSignalError(
            "One side of the unit was not heard.", "Check both microphones and their cables."
        )
    cross = weights * front_in.conj() * back_in / math.sqrt(powers[0]) / math.sqrt(powers[1])
    steps = math.ceil(longest_delay_s * inside_hz[-1] * STEPS_PER_PERIOD)
    delay_s = np.linspace(-longest_delay_s, longest_delay_s, 2 * steps + 1)
    correlation = correlation_at(inside_hz, cross, delay_s)
    best = int(np.argmax(np.abs(correlation)))
    best_s, best_ratio = refined(inside_hz, cross, delay_s, best)
    opposite = np.max(-np.sign(best_ratio) * correlation)
    return FrontToBack(best_ratio, best_s, float(max(opposite, 0.0)))


def correlation_at(
    frequency_hz: FloatArray, cross: ComplexArray, delay_s: FloatArray
) -> FloatArray:
    """Return the real correlation at delays."""
    turns = np.exp(2j * np.pi * np.multiply.outer(delay_s, frequency_hz))
    correlation: FloatArray = (turns @ cross).real
    return correlation


def refined(
    frequency_hz: FloatArray, cross: ComplexArray, delay_s: FloatArray, best: int
) -> tuple[float, float]:
    """Return delay and correlation on a grid finer by the same number of steps, about the best."""
    low, high = max(best - 1, 0), min(best + 1, delay_s.size - 1)
    fine_s = np.linspace(delay_s[low], delay_s[high], 2 * STEPS_PER_PERIOD + 1)
    correlation = correlation_at(frequency_hz, cross, fine_s)
    finest = int(np.argmax(np.abs(correlation)))
    return float(fine_s[finest]), float(np.clip(correlation[finest], -1.0, 1.0))
