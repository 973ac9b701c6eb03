"""Whether the drive arrived as it was sent: level, likeness, and what no linear path explains."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.signals.bands import OCTAVE_RATIO
from station.analysis.signals.spectra import bin_frequencies, full_level_to_hz, phase_ramp
from station.analysis.signals.sweep import Sweep, sweep_voltage

# In each third of an octave the path from drive to channel may be any cubic over frequency: room
# for an amplifier and a cable, and for nothing that lasts. Lost samples turn the phase suddenly.
BANDS_PER_OCTAVE = 3
COEFFICIENTS = 4
FEWEST_BINS = 12
# Amplifier, cable and contacts together: more than this would be a fault of the station.
LARGEST_SOURCE_OHM = 1.0
LARGEST_SOURCE_H = 10e-6
# Products of powers below this vanish in double precision; no converter delivers them.
FAINTEST_POWER = 1e-250
WELL_FILLED_BINS = 48  # with fewer, a cubic explains noise as well


@dataclass(frozen=True, slots=True)
class DriveState:
    """How a channel compares with the drive.

    Attributes
    ----------
    level_ratio : float
        RMS of the channel over that of the drive, both within the sweep's range.
    likeness_ratio : float
        Correlation with the drive at the best delay; 1.0 for a scaled and delayed copy.
    residual_db : float
        What no linear path explains, relative to the channel.
    residual_at_hz : float
        Where most of that lies; also the frequency the sweep had when it happened.
    explained_ratio : float
        Highest share of the power in a band that a linear path explains: near one if the drive
        is heard at all, near zero for noise.
    """

    level_ratio: float
    likeness_ratio: float
    residual_db: float
    residual_at_hz: float
    explained_ratio: float


NOTHING = DriveState(0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class DriveBasis:
    """What is the same for every recording of one sweep; all arrays read-only.

    Bins `edges[0]` to `edges[-1]` are used. `conjugate` is that of the drive's spectrum there, and
    the rows of `basis` are polynomials, orthonormal in each band under the drive's power.
    """

    edges: tuple[int, ...]
    conjugate: ComplexArray
    basis: FloatArray
    power: float

    def __post_init__(self) -> None:
        self.conjugate.flags.writeable = False
        self.basis.flags.writeable = False


def drive_state(
    spectrum: ComplexArray,
    start_s: float,
    sweep: Sweep,
    n: int,
    current: ComplexArray | None = None,
) -> DriveState:
    """Return how a channel compares with the drive.

    Parameters
    ----------
    spectrum : ndarray, shape (n // 2 + 1,)
        Of the channel.
    start_s : float
        When the sweep's first sample stands in the channel.
    sweep : Sweep
        The stimulus.
    n : int
        Length of the transform.
    current : ndarray, shape (n // 2 + 1,), optional
        Spectrum of the unit's current in A, for a voltage channel in V.

    Returns
    -------
    DriveState
        All zero for a channel that is silent. In each third of an octave the path from the drive is
        a cubic over frequency. What the current takes from the voltage in the amplifier's and the
        cable's impedance is explained as well: a unit with an open driver may ring so sharply that
        no smooth path would.

    Raises
    ------
    ValueError
        If the recording is too short for two bands.

    References
    ----------
    .. [1] Least squares in each band; the split into bands is common practice, no source.
    """
    known = drive_basis(sweep, n)
    first, stop = known.edges[0], known.edges[-1]
    step_hz = sweep.rate_hz / n
    late_s = start_s - sweep.lead_in_samples / sweep.rate_hz
    turned = phase_ramp(stop, step_hz, -late_s)[first:]
    columns = [spectrum[first:stop] * turned]
    if current is not None:
        omega = 2.0 * np.pi * bin_frequencies(sweep.rate_hz, n)[first:stop]
        turned *= current[first:stop]
        columns += [LARGEST_SOURCE_OHM * turned, 1j * LARGEST_SOURCE_H * omega * turned]
    band_power, left, correlation = grams(known, columns)
    if float(np.sum(band_power)) < FAINTEST_POWER:
        return NOTHING
    drop = source_share(left)
    unexplained = np.maximum(np.einsum("i,bij,j->b", drop, left, drop), 0.0)
    return summary(known, band_power, unexplained, correlation, step_hz)


def grams(known: DriveBasis, columns: list[ComplexArray]) -> tuple[FloatArray, FloatArray, float]:
    """Return each band's power, what products of columns the drive leaves, and the correlation."""
    first = known.edges[0]
    band_power = np.empty(len(known.edges) - 1)
    left = np.empty((band_power.size, len(columns), len(columns)))
    pairs = [column.view(np.float64) for column in columns]
    along_drive = [column * known.conjugate for column in columns]
    crosses = [cross.view(np.float64).reshape(-1, 2) for cross in along_drive]
    for index, (low, high) in enumerate(itertools.pairwise(known.edges)):
        band = slice(low - first, high - first)
        values = [pair[2 * band.start : 2 * band.stop] for pair in pairs]
        along = np.stack([(known.basis[:, band] @ cross[band]).ravel() for cross in crosses])
        products = np.array([[float(one @ other) for other in values] for one in values])
        band_power[index] = products[0, 0]
        left[index] = products - along @ along.T
    return band_power, left, abs(complex(np.sum(along_drive[0])))


def source_share(left: FloatArray) -> FloatArray:
    """Return the weights of the columns that leave least: the first's is one.

    A source impedance can only take voltage away, and no more than the largest thinkable.
    """
    total = np.sum(left, axis=0)
    if not np.isfinite(total).all():
        alone: FloatArray = np.eye(total.shape[0])[0]
        return alone
    share, *_ = np.linalg.lstsq(total[1:, 1:], -total[1:, 0])
    drop = np.concatenate([[1.0], np.clip(share, 0.0, 1.0)])
    none = np.eye(drop.size)[0]
    return drop if drop @ total @ drop < total[0, 0] else none


def summary(
    known: DriveBasis,
    band_power: FloatArray,
    unexplained: FloatArray,
    correlation: float,
    step_hz: float,
) -> DriveState:
    """Return the state from the sums over each band."""
    edges = np.array(known.edges)
    total = float(np.sum(band_power))
    rounding = np.finfo(np.float64).eps * total
    worst = int(np.argmax(unexplained))
    filled = (np.diff(edges) >= WELL_FILLED_BINS) & (band_power > 0.0)
    shares = 1.0 - unexplained[filled] / band_power[filled]
    return DriveState(
        level_ratio=math.sqrt(total / known.power),
        likeness_ratio=correlation / math.sqrt(total * known.power),
        residual_db=10.0 * math.log10(max(float(np.sum(unexplained)), rounding) / total),
        residual_at_hz=math.sqrt(float(edges[worst]) * float(edges[worst + 1])) * step_hz,
        explained_ratio=float(np.max(shares, initial=0.0)),
    )


@lru_cache(maxsize=8)
def drive_basis(sweep: Sweep, n: int) -> DriveBasis:
    """Return the drive's spectrum in bands with their polynomials."""
    edges = band_bins(sweep, n)
    first, stop = edges[0], edges[-1]
    spectrum = scipy.fft.rfft(sweep_voltage(sweep), n)[first:stop]
    weights = np.abs(spectrum)
    basis = np.empty((COEFFICIENTS, stop - first))
    for low, high in itertools.pairwise(edges):
        band = slice(low - first, high - first)
        x = np.linspace(-1.0, 1.0, high - low)
        weighted = weights[band, np.newaxis] * x[:, np.newaxis] ** np.arange(COEFFICIENTS)
        orthonormal, _ = np.linalg.qr(weighted)
        basis[:, band] = orthonormal.T / weights[band]
    return DriveBasis(edges, np.conjugate(spectrum), basis, float(np.sum(weights**2)))


def band_bins(sweep: Sweep, n: int) -> tuple[int, ...]:
    """Return the bins at which bands begin, and where the last one ends."""
    step_hz = float(bin_frequencies(sweep.rate_hz, n)[1])
    stop = math.floor(full_level_to_hz(sweep) / step_hz)
    edges = [math.ceil(sweep.faded_in_hz / step_hz)]
    while edges[-1] < stop:
        wider = round(edges[-1] * OCTAVE_RATIO ** (1.0 / BANDS_PER_OCTAVE))
        edges.append(max(wider, edges[-1] + FEWEST_BINS))
    edges = [*edges[:-2], stop]  # the last band is not narrower than the others
    if len(edges) < 3:
        raise ValueError(f"{n} samples are too few for a sweep from {sweep.faded_in_hz} Hz")
    return tuple(edges)
