"""A steady tone in a recording: its frequency, its amplitude, and how clean and steady it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.signal.windows

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.statistics.uncertainty import Estimate, mean_estimate
from station.errors import NoSignalError

BLOCK_S = 0.125  # the time constant F of IEC 61672-1, by which a calibrator's steadiness is told
FEWEST_BLOCKS = 4
SEARCH_RATIO = math.sqrt(2.0)  # the tone is looked for half an octave to either side
HEARD_FROM_HZ, HEARD_TO_HZ = 22.4, 22.4e3  # the band of IEC 60942 for distortion and noise
# A Blackman-Harris window keeps 92 dB beside its lobe of 4 bins (Harris, Proc. IEEE 66(1), 1978).
LOBE_BINS = 5
LOBE_RATIO = 0.005  # of the frequency: room for a tone that wanders
MOSTLY_TONE = 0.5  # a tone whose company is stronger than this is no tone


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone.

    Attributes
    ----------
    frequency_hz : float
        Mean frequency.
    rms : Estimate
        RMS amplitude in the unit of the samples.
    distortion_ratio : float
        RMS of all else between 22.4 Hz and 22.4 kHz over that of the whole.
    fluctuation_db : float
        Half the difference between the highest and the lowest level of an eighth of a second.
    """

    frequency_hz: float
    rms: Estimate
    distortion_ratio: float
    fluctuation_db: float


def tone_near(samples: FloatArray, rate_hz: float, nominal_hz: float) -> Tone:
    """Return the tone nearest the strongest line around a nominal frequency.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        Half a second or more, in any unit.
    rate_hz : float
        Sampling rate.
    nominal_hz : float
        Where the tone should be; it is looked for half an octave to either side.

    Returns
    -------
    Tone
        Its amplitude is the mean of Hann-windowed blocks of an eighth of a second, so that it
        holds nothing of noise and hum beside the tone, and the blocks' scatter is its uncertainty.

    Raises
    ------
    ValueError
        If there is less than half a second, or the rate is too low.
    NoSignalError
        If there is no tone, or more else than tone.

    References
    ----------
    .. [1] IEC 60942, clauses on short-term level fluctuation and on total distortion and noise.
    .. [2] Harris, Proc. IEEE 66(1), 1978, doi:10.1109/PROC.1978.10837, on windows.
    """
    block = round(BLOCK_S * rate_hz)
    if samples.ndim != 1 or samples.size < FEWEST_BLOCKS * block:
        raise ValueError(f"need shape (n,), n >= {FEWEST_BLOCKS * block}; got {samples.shape}")
    if nominal_hz * SEARCH_RATIO >= 0.5 * rate_hz:
        raise ValueError(f"{nominal_hz} Hz needs a higher rate than {rate_hz} Hz")
    if not np.any(samples):
        raise no_tone()
    line_hz, distortion_ratio = line_and_company(samples, rate_hz, nominal_hz)
    if not distortion_ratio < MOSTLY_TONE:
        raise no_tone()
    turns = block_amplitudes(samples, rate_hz, line_hz, block)
    drift = np.polyfit(np.arange(turns.size), np.unwrap(np.angle(turns)), 1)[0]
    frequency_hz = line_hz + float(drift) * rate_hz / (2.0 * math.pi * block)
    rms = np.abs(block_amplitudes(samples, rate_hz, frequency_hz, block)) / math.sqrt(2.0)
    fluctuation_db = 10.0 * math.log10(float(np.max(rms) / np.min(rms)))
    return Tone(frequency_hz, mean_estimate(rms), distortion_ratio, fluctuation_db)


def line_and_company(samples: FloatArray, rate_hz: float, nominal_hz: float) -> tuple[float, float]:
    """Return the strongest line near a frequency, and the RMS of all else over the whole."""
    window = scipy.signal.windows.blackmanharris(samples.size, sym=False)
    power = np.abs(scipy.fft.rfft(window * (samples - np.mean(samples)))) ** 2
    frequency_hz = scipy.fft.rfftfreq(samples.size, 1.0 / rate_hz)
    near = (frequency_hz > nominal_hz / SEARCH_RATIO) & (frequency_hz < nominal_hz * SEARCH_RATIO)
    strongest = int(np.argmax(np.where(near, power, 0.0)))
    if power[strongest] == 0.0:
        raise no_tone()
    line_hz = frequency_hz[strongest]
    reach_hz = max(LOBE_BINS * rate_hz / samples.size, LOBE_RATIO * line_hz)
    beside = np.abs(frequency_hz - line_hz) > reach_hz
    heard = (frequency_hz >= HEARD_FROM_HZ) & (frequency_hz <= HEARD_TO_HZ)
    whole = float(np.sum(power[heard | ~beside]))
    return float(line_hz), math.sqrt(float(np.sum(power[heard & beside])) / whole)


def block_amplitudes(
    samples: FloatArray, rate_hz: float, frequency_hz: float, block: int
) -> ComplexArray:
    """Return the complex peak amplitude of a tone in each block, phase referred to time zero."""
    count = samples.size // block
    blocks = samples[: count * block].reshape(count, block)
    window = scipy.signal.windows.hann(block, sym=False)
    angle = -2j * np.pi * frequency_hz / rate_hz
    within = window * np.exp(angle * np.arange(block))
    starts = np.exp(angle * block * np.arange(count))
    amplitudes: ComplexArray = 2.0 / np.sum(window) * starts * (blocks @ within)
    return amplitudes


def no_tone() -> NoSignalError:
    """Return the error of a recording without a tone."""
    return NoSignalError(
        "No steady tone is heard.",
        "Switch the calibrator on and push it fully over the microphone.",
    )
