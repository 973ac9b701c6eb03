"""What full scale means: microphone by a calibrator's tone, current by a known resistor."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.signals.tone import Tone, tone_near
from station.analysis.signals.weighting import pressure_of_level
from station.analysis.statistics.uncertainty import Estimate, combined
from station.analysis.trust.integrity import CLIPPED_FROM
from station.errors import NoSignalError

JACKKNIFE_BLOCKS = 16
# Current through a resistor follows the voltage; 0.99 leaves 14 % of it to noise and hum.
LEAST_CORRELATION = 0.99
LARGEST_SHARE = 0.5  # of the energy in one sixteenth, beyond which their scatter says nothing


@dataclass(frozen=True, slots=True)
class Calibrator:
    """A sound calibrator, from its certificate and the class it was made to.

    Attributes
    ----------
    level_db_spl : Estimate
        Level in the coupler with this microphone, with its standard uncertainty in dB.
    frequency_hz : float
        Nominal frequency.
    frequency_tolerance_ratio : float
        How far the tone may be from it, relative.
    largest_distortion_ratio : float
        Largest share of distortion and noise.
    largest_fluctuation_db : float
        Largest half-difference of the level over the recording.
    """

    level_db_spl: Estimate
    frequency_hz: float
    frequency_tolerance_ratio: float
    largest_distortion_ratio: float
    largest_fluctuation_db: float


@dataclass(frozen=True, slots=True)
class MicrophoneCalibration:
    """The pressure that full scale means, and the tone it was read from.

    Attributes
    ----------
    full_scale_pa : Estimate
        Instantaneous pressure at sample value 1.0.
    tone : Tone
        As recorded, relative to full scale.
    """

    full_scale_pa: Estimate
    tone: Tone


def microphone_calibration(
    samples: FloatArray, rate_hz: float, calibrator: Calibrator
) -> MicrophoneCalibration:
    """Return what full scale of the microphone channel means, from a calibrator's tone.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The microphone channel relative to full scale, half a second or more.
    rate_hz : float
        Sampling rate.
    calibrator : Calibrator
        What is on the microphone.

    Returns
    -------
    MicrophoneCalibration
        Its uncertainty combines the calibrator's and that of the recording.

    Raises
    ------
    ValueError
        If the recording is too short or its rate too low.
    NoSignalError
        If the input clips, or there is no tone of the calibrator's frequency that is clean and
        steady enough.

    References
    ----------
    .. [1] IEC 60942, whose classes limit frequency, distortion and short-term fluctuation.
    .. [2] JCGM 100:2008, 5.1.2.
    """
    if samples.size and float(np.max(np.abs(samples))) >= CLIPPED_FROM:
        raise NoSignalError("The microphone input clips.", "Lower its gain, then calibrate again.")
    tone = tone_near(samples, rate_hz, calibrator.frequency_hz)
    check_tone(tone, calibrator)

    def full_scale_pa(inputs: FloatArray) -> float:
        return float(pressure_of_level(inputs[:1])[0] / inputs[1])

    return MicrophoneCalibration(combined(full_scale_pa, (calibrator.level_db_spl, tone.rms)), tone)


def current_full_scale_a(
    voltage_v: FloatArray,
    samples: FloatArray,
    resistor_ohm: Estimate,
    voltage_uncertainty_ratio: float,
) -> Estimate:
    """Return what full scale of the current channel means, from a known resistor as the load.

    Parameters
    ----------
    voltage_v : ndarray, shape (n,)
        Voltage across the resistor in V, of any stimulus.
    samples : ndarray, shape (n,)
        The current channel relative to full scale.
    resistor_ohm : Estimate
        The resistor, leads included.
    voltage_uncertainty_ratio : float
        Relative standard uncertainty of the voltage channel's own calibration.

    Returns
    -------
    Estimate
        Instantaneous current in A at sample value 1.0. The recording's share of the uncertainty
        is that of a jackknife over sixteenths of it, so that hum counts as what it is.

    Raises
    ------
    ValueError
        If the shapes disagree, or there are fewer than 16 samples.
    NoSignalError
        If a channel is silent or nearly always so, the current is reversed, or it does not follow
        the voltage.

    References
    ----------
    .. [1] Miller, Biometrika 61(1), 1974, doi:10.1093/biomet/61.1.1, on the jackknife.
    .. [2] JCGM 100:2008, 5.1.2.
    """
    if voltage_v.ndim != 1 or voltage_v.shape != samples.shape or samples.size < JACKKNIFE_BLOCKS:
        raise ValueError(
            f"need two shapes (n,), n >= {JACKKNIFE_BLOCKS}; got {voltage_v.shape}, {samples.shape}"
        )
    voltage = voltage_v - np.mean(voltage_v)
    current = samples - np.mean(samples)
    check_current(voltage, current)
    slope_per_v = jackknifed_slope(voltage, current)
    gain_ratio = Estimate(1.0, voltage_uncertainty_ratio)
    return combined(
        lambda inputs: float(inputs[2] / (inputs[0] * inputs[1])),
        (resistor_ohm, slope_per_v, gain_ratio),
    )


def drift_db(full_scale: Estimate, last_full_scale: Estimate) -> Estimate:
    """Return how far a channel's sensitivity has moved since its last calibration.

    Parameters
    ----------
    full_scale, last_full_scale : Estimate
        Of one channel, in one unit.

    Returns
    -------
    Estimate
        In dB; positive where the channel has become less sensitive: full scale means more. The
        two uncertainties are taken as independent, so with one calibrator for both it is an
        upper bound.

    Raises
    ------
    ValueError
        If a full scale is not above zero.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, on a difference of levels.
    """
    if not min(full_scale.value, last_full_scale.value) > 0.0:
        raise ValueError("need full scales above zero")
    return combined(
        lambda inputs: 20.0 * math.log10(float(inputs[0] / inputs[1])),
        (full_scale, last_full_scale),
    )


def check_tone(tone: Tone, calibrator: Calibrator) -> None:
    """Raise NoSignalError unless a tone is as the calibrator's class demands."""
    off_ratio = abs(tone.frequency_hz / calibrator.frequency_hz - 1.0)
    if off_ratio > calibrator.frequency_tolerance_ratio:
        raise NoSignalError(
            f"The tone is at {tone.frequency_hz:.1f} Hz, not {calibrator.frequency_hz:.0f} Hz.",
            "Use the calibrator that the station file names, with a fresh battery.",
        )
    if tone.distortion_ratio > calibrator.largest_distortion_ratio:
        below_db = -20.0 * math.log10(tone.distortion_ratio)
        raise NoSignalError(
            f"Noise and distortion are only {below_db:.0f} dB below the calibrator's tone.",
            "Push the calibrator fully over the microphone, and wait until it is quiet.",
        )
    if tone.fluctuation_db > calibrator.largest_fluctuation_db:
        raise NoSignalError(
            f"The calibrator's level moves by {tone.fluctuation_db:.2f} dB to either side.",
            "Hold the calibrator still, with a fresh battery, and calibrate again.",
        )


def check_current(voltage: FloatArray, current: FloatArray) -> None:
    """Raise NoSignalError unless the current follows the voltage as a resistor's does."""
    size = float(np.linalg.norm(voltage) * np.linalg.norm(current))
    if size == 0.0:
        raise NoSignalError(
            "Voltage or current is silent.", "Connect the resistor and check the current sense."
        )
    correlation = float(voltage @ current) / size
    if correlation < -LEAST_CORRELATION:
        raise NoSignalError(
            "The current channel is reversed.", "Swap the two wires of the current sense."
        )
    if correlation < LEAST_CORRELATION:
        raise NoSignalError(
            "The current is not that of a resistor.",
            "Connect the resistor alone in place of a unit.",
        )


def jackknifed_slope(voltage: FloatArray, current: FloatArray) -> Estimate:
    """Return current over voltage, with the scatter that leaving out a sixteenth makes."""
    edges = np.linspace(0, voltage.size, JACKKNIFE_BLOCKS + 1).astype(np.intp)[:-1]
    products = np.add.reduceat(voltage * current, edges)
    squares = np.add.reduceat(voltage**2, edges)
    if np.max(squares) > LARGEST_SHARE * np.sum(squares):
        raise NoSignalError(
            "The voltage was there for a moment only.", "Play the whole stimulus while calibrating."
        )
    whole = float(np.sum(products) / np.sum(squares))
    without = (np.sum(products) - products) / (np.sum(squares) - squares)
    spread = math.sqrt((JACKKNIFE_BLOCKS - 1.0) * float(np.var(without)))
    return Estimate(whole, spread, JACKKNIFE_BLOCKS - 1.0)
