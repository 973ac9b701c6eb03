"""Harmonic distortion of every order against the excitation frequency, from one sweep."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import scipy.fft

from station.analysis.acoustic.residual import Residual, deconvolved_residual
from station.analysis.arrays import FloatArray, read_only
from station.analysis.plan import DistortionPlan
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.spectra import Spectra, even_fast_length, inverse_sweep
from station.analysis.signals.sweep import Sweep
from station.analysis.signals.transfer import Transfer
from station.errors import NoSignalError

LOWEST_ORDER = 2
HIGHEST_ORDER = 10
# A window reaches so far towards the harmonic before it and after it. An impulse response begins
# suddenly and dies slowly, so most of the gap after its peak belongs to it. With edges as soft as
# these a band half an octave above the lowest excited frequency still reads right.
REACH_BEFORE_RATIO = 0.5
REACH_AFTER_RATIO = 0.9
EDGE_RATIO = 0.8  # this share of each side is a raised cosine
PADDING = 2  # the power of a windowed signal has twice its bandwidth


@dataclass(frozen=True, slots=True, eq=False)
class DistortionResult:
    """Harmonics relative to the fundamental, by excitation frequency.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Excitation frequency: the band centres.
    h_db : mapping of int to ndarray, shape (n,)
        By order; NaN where the harmonic lies above the top of the sweep.
    thd_db : ndarray, shape (n,)
        Root of the sum of squares of the orders that lie below the top of the sweep; NaN where
        none does.
    """

    frequency_hz: FloatArray
    h_db: Mapping[int, FloatArray]
    thd_db: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "frequency_hz", read_only(self.frequency_hz))
        object.__setattr__(self, "thd_db", read_only(self.thd_db))
        kept = {order: read_only(values) for order, values in self.h_db.items()}
        object.__setattr__(self, "h_db", MappingProxyType(kept))


def harmonic_distortion(
    spectra: Spectra, response: Transfer, plan: DistortionPlan
) -> DistortionResult:
    """Return the harmonic ratios and total harmonic distortion of the unit.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with microphone and voltage.
    response : Transfer
        The microphone's gated response to the voltage, in Pa/V.
    plan : DistortionPlan
        Bands of excitation frequency, and the orders to read.

    Returns
    -------
    DistortionResult
        For a band of excitation frequency from f1 to f2, order n is the mean power of its sound
        pressure between n f1 and n f2, divided by the mean power of the fundamental's between f1
        and f2, in dB. The fundamental is the gated response times the measured voltage.

    Raises
    ------
    NoSignalError
        If there is no fundamental in a band.
    ValueError
        If an order is not a whole number from 2 to 10, or none is asked for, or a band is not
        inside the sweep.

    Notes
    -----
    Ratios refer to the fundamental. IEC 60268-5 also knows the ratio to the total pressure; the
    two differ by less than 0.05 dB below -20 dB (1/sqrt(1 + d^2)).

    Where n f2 passes the top of the sweep the order drops out of the total: the total then holds
    fewer orders, and steps down there if the order was strong.

    References
    ----------
    .. [1] IEC 60268-21, harmonic distortion; IEC 60268-5, characteristic harmonic distortion.
    .. [2] Farina, AES 108th Convention, 2000, preprint 5093.
    .. [3] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, section 3.
    """
    if not plan.orders or not set(plan.orders) <= set(range(LOWEST_ORDER, HIGHEST_ORDER + 1)):
        raise ValueError(f"orders must be whole numbers from 2 to 10; got {plan.orders}")
    centres_hz = band_centres(plan.from_hz, plan.to_hz, plan.bands_per_octave)
    lower_hz, upper_hz = band_edges(centres_hz, plan.bands_per_octave)
    if lower_hz[0] < spectra.sweep.start_hz or upper_hz[-1] > spectra.sweep.stop_hz:
        raise ValueError(f"{plan.from_hz} to {plan.to_hz} Hz is not inside the sweep")
    fundamental = fundamental_power(spectra, response, lower_hz, upper_hz)
    highest_hz = min(max(plan.orders) * float(upper_hz[-1]), spectra.sweep.stop_hz)
    residual = deconvolved_residual(spectra, response, highest_hz)
    ratios: dict[int, FloatArray] = {}
    for order in sorted(set(plan.orders)):
        read = order * upper_hz <= spectra.sweep.stop_hz
        ratios[order] = np.full(centres_hz.size, np.nan)
        if read.any():
            edges_hz = order * lower_hz[read], order * upper_hz[read]
            power = harmonic_power(residual, spectra.sweep, order, *edges_hz)
            ratios[order][read] = power / fundamental[read]
    stacked = np.stack(list(ratios.values()))
    total = np.where(np.isnan(stacked).all(axis=0), np.nan, np.nansum(stacked, axis=0))
    return DistortionResult(
        centres_hz,
        {order: decibels(power) for order, power in ratios.items()},
        decibels(total),
    )


def fundamental_power(
    spectra: Spectra, response: Transfer, lower_hz: FloatArray, upper_hz: FloatArray
) -> FloatArray:
    """Return the deconvolved linear part's mean power in each band."""
    bins = min(math.ceil(float(upper_hz[-1]) / spectra.step_hz) + 2, spectra.frequency_hz.size)
    linear = response.values[:bins] * spectra.by_role["voltage"][:bins]
    linear *= inverse_sweep(spectra.sweep, spectra.n)[:bins]
    power = band_power(linear.real**2 + linear.imag**2, spectra.step_hz, lower_hz, upper_hz)
    if not np.all(power > 0.0):
        raise NoSignalError(
            "The microphone did not hear the sweep.", "Check its cable and the leads to the unit."
        )
    return power


def harmonic_power(
    residual: Residual, sweep: Sweep, order: int, lower_hz: FloatArray, upper_hz: FloatArray
) -> FloatArray:
    """Return the mean power of one harmonic in bands of its own frequency."""
    before_s, after_s = harmonic_reach(sweep, order)
    arrival_s = residual.direct_s - sweep.rate_s * math.log(order)
    first = math.ceil((arrival_s - before_s) / residual.step_s)
    last = math.floor((arrival_s + after_s) / residual.step_s)
    index = np.arange(first, last + 1)
    time_s = index * residual.step_s - arrival_s
    rise = np.clip((1.0 + time_s / before_s) / EDGE_RATIO, 0.0, 1.0)
    fall = np.clip((1.0 - time_s / after_s) / EDGE_RATIO, 0.0, 1.0)
    window = np.sin(0.5 * np.pi * np.minimum(rise, fall)) ** 2
    cut_pa = residual.impulse_pa[index % residual.impulse_pa.size] * window
    length = even_fast_length(PADDING * cut_pa.size)
    spectrum = scipy.fft.rfft(cut_pa, length)
    step_hz = 1.0 / (length * residual.step_s)
    return band_power(spectrum.real**2 + spectrum.imag**2, step_hz, lower_hz, upper_hz)


def harmonic_reach(sweep: Sweep, order: int) -> tuple[float, float]:
    """Return how far a harmonic's window reaches before and after its arrival, in s."""
    before_s = REACH_BEFORE_RATIO * sweep.rate_s * math.log((order + 1) / order)
    after_s = REACH_AFTER_RATIO * sweep.rate_s * math.log(order / (order - 1))
    return before_s, after_s


def decibels(power: FloatArray) -> FloatArray:
    """Return a power ratio in dB; NaN stays NaN, and nothing becomes minus infinite."""
    level_db: FloatArray = 10.0 * np.log10(np.maximum(power, np.finfo(np.float64).tiny))
    return level_db
