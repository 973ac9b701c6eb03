"""Whether output and inputs run on one clock: the sweep's time base against the samples'.

Everything linear is read against the measured voltage, so two clocks spoil it little; but
distortion is read against the sweep as it was sent, and a sweep that arrives stretched smears it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.signals.spectra import Spectra, full_level_to_hz, inverse_sweep, phase_ramp

# Below, the coupling of an amplifier turns the phase; above, its filters and the cable do.
FROM_HZ, TO_HZ = 500.0, 20_000.0
FEWEST_OCTAVES = 2.0
BINS = 4000
NO_DRIFT_RAD = 1e-9


@dataclass(frozen=True, slots=True)
class TimeBase:
    """How the sweep arrived in time.

    Attributes
    ----------
    drift_ratio : float
        By which share the output's clock is faster than the inputs'.
    unsteady_ratio : float
        RMS of the phase that a steady drift does not explain over the phase that it does: small
        for two clocks, large where samples were lost.
    """

    drift_ratio: float
    unsteady_ratio: float


def time_base(spectra: Spectra) -> TimeBase:
    """Return how the sweep in the voltage channel is stretched.

    Parameters
    ----------
    spectra : Spectra
        With a voltage that was driven.

    Returns
    -------
    TimeBase
        By least squares on the phase of the deconvolved voltage between 500 Hz and 20 kHz, or
        the sweep's top.

    Raises
    ------
    ValueError
        If the sweep covers less than two octaves there.

    References
    ----------
    .. [1] An exponential sweep with rate L reaches f at t = L ln(f / f1) (Novak 2015, eq. 9). On
       a clock faster by p it does so at (1 - p) t: a delay that falls by p L with every factor e
       of frequency. Phase is its integral, -2 pi (d f - p L (f ln f - f)) + const; a term in 1/f
       takes up the amplifier's coupling.
    """
    to_hz = min(TO_HZ, full_level_to_hz(spectra.sweep))
    if to_hz < FROM_HZ * 2.0**FEWEST_OCTAVES:
        raise ValueError(f"the sweep ends at {to_hz:g} Hz, too low to time it")
    first, stop = math.ceil(FROM_HZ / spectra.step_hz), math.floor(to_hz / spectra.step_hz)
    bins = slice(first, stop, max(1, (stop - first) // BINS))
    turned = spectra.by_role["voltage"][bins] * inverse_sweep(spectra.sweep, spectra.n)[bins]
    turned *= phase_ramp(stop, spectra.step_hz, -spectra.start_s)[bins]
    frequency_hz = spectra.frequency_hz[bins]
    phase_rad = np.unwrap(np.angle(turned))
    ratio = frequency_hz / to_hz  # near one: the columns stay of one size
    columns = np.stack(
        [np.ones_like(ratio), ratio, ratio * np.log(ratio) - ratio, FROM_HZ / frequency_hz], axis=1
    )
    found, *_ = np.linalg.lstsq(columns, phase_rad, rcond=None)
    drift_rad = float(found[2])
    residual_rad = float(np.sqrt(np.mean((phase_rad - columns @ found) ** 2)))
    return TimeBase(
        drift_rad / (2.0 * math.pi * spectra.sweep.rate_s * to_hz),
        residual_rad / max(abs(drift_rad), NO_DRIFT_RAD),
    )
