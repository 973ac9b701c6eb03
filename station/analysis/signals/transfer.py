"""Transfer functions from the measured voltage, gated in time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import UNIT_OF_ROLE, Role
from station.analysis.signals.continuation import continued_below
from station.analysis.signals.spectra import (
    Spectra,
    bin_frequencies,
    even_fast_length,
    full_level_to_hz,
    inverse_sweep,
    phase_ramp,
)
from station.analysis.signals.sweep import Sweep
from station.errors import NoSignalError

PRE_WINDOW_S = 0.030
# Sound arrives this long after the voltage at most: flight, and delays inside a powered unit.
LATEST_ARRIVAL_S = 0.100
GATE_END_RATIO = 0.25  # the last part of the gate is its raised-cosine end

# Share of the ideal sweep's power added to the denominator: a bias of 1e-6 dB where the voltage
# has its level, and a wall where the sweep has ended.
REGULARISATION_INSIDE = 1e-7
REGULARISATION_OUTSIDE = 1.0

# The response below the sweep's start is continued from the half octave or so above it, and
# matters up to so many times the start.
CONTINUED_FROM_RATIO = 1.5
EXTENSION_TO_RATIO = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Transfer:
    """A gated transfer function from the voltage at the terminals to one channel.

    The arrays are made read-only without a copy, like those of Spectra.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n // 2 + 1,)
        The bins of the Spectra it was made from.
    values : ndarray, shape (n // 2 + 1,)
        Complex, in `unit`. Trusted between the sweep's `faded_in_hz` and its fade-out.
    delay_s : float
        Arrival of the impulse response's peak after the voltage.
    unit : str
        "Pa/V" or "A/V".
    """

    frequency_hz: FloatArray
    values: ComplexArray
    delay_s: float
    unit: str

    def __post_init__(self) -> None:
        self.frequency_hz.flags.writeable = False
        self.values.flags.writeable = False


def gated_transfer(
    spectra: Spectra, role: Role, gate_s: float, *, before_s: float | None = None
) -> Transfer:
    """Return the linear response of a channel to the measured voltage, without late echoes.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with this role and a voltage.
    role : Role
        "microphone", "rear", or "current" for the admittance I/V.
    gate_s : float
        What arrives later than this after the peak is cut; the last quarter is a raised cosine.
    before_s : float, optional
        Raised-cosine window before the peak: 30 ms for sound; for the current, which has no
        noise to keep out, as long as the second harmonic's response stays outside.

    Returns
    -------
    Transfer
        Y conj(V) / (|V|^2 + eps |S|^2), S the ideal sweep at the stimulus's level, gated.

    Raises
    ------
    NoSignalError
        If the channel or the voltage is exactly zero.
    ValueError
        If the role was not transformed, or the gate is not positive.

    Notes
    -----
    A gate smears the frequency axis, so that a hole below the sweep's start would leak into the
    lowest bands as an error of up to 2 dB. The response is therefore continued below the start
    before it is gated.

    References
    ----------
    .. [1] IEC 60268-21, transfer function with a broadband stimulus and time windowing.
    """
    if before_s is None:
        before_s = pre_window(spectra.sweep, role)
    if role not in spectra.by_role or min(gate_s, before_s) <= 0.0:
        raise ValueError(f"need a transformed role and a positive gate; got {role}, {gate_s} s")
    if not spectra.by_role[role].any() or not spectra.by_role["voltage"].any():
        raise NoSignalError(
            f"The {role} or the voltage channel is dead.", "Check its cable and the input's gain."
        )
    values = regularised_ratio(spectra, role)
    extended_hz = EXTENSION_TO_RATIO * spectra.sweep.faded_in_hz
    lowest = values[: max(math.ceil(extended_hz / spectra.step_hz), 3)].copy()
    impulse = scipy.fft.irfft(values, spectra.n, overwrite_x=True)
    del values  # the largest arrays of a measurement: fewer at a time are faster
    latest = max(3, min(math.ceil(LATEST_ARRIVAL_S * spectra.sweep.rate_hz), spectra.n))
    peak_s = peak_of(np.abs(impulse[:latest])) / spectra.sweep.rate_hz
    gate = Gate(peak_s, before_s, gate_s)
    cut_to_gate(impulse, gate, spectra.sweep.rate_hz)
    gated = scipy.fft.rfft(impulse, overwrite_x=True)
    gated[: lowest.size] += extension(lowest, spectra, gate)
    return Transfer(spectra.frequency_hz, gated, gate.peak_s, f"{UNIT_OF_ROLE[role]}/V")


@dataclass(frozen=True, slots=True)
class Gate:
    """A window around an instant: raised cosine up to it, flat, raised-cosine end."""

    peak_s: float
    before_s: float
    after_s: float

    def weights(self, time_s: FloatArray) -> FloatArray:
        """Return the window at times after the peak; zero outside the gate."""
        rise = np.clip(1.0 + time_s / self.before_s, 0.0, 1.0)
        fall = np.clip((self.after_s - time_s) / (GATE_END_RATIO * self.after_s), 0.0, 1.0)
        weights: FloatArray = np.sin(0.5 * np.pi * np.minimum(rise, fall)) ** 2
        return weights


def pre_window(sweep: Sweep, role: Role) -> float:
    """Return how long before the peak a gate opens; harmonic 2 stands L ln 2 before it."""
    second_harmonic_s = sweep.rate_s * math.log(2.0)
    return second_harmonic_s if role == "current" else min(PRE_WINDOW_S, second_harmonic_s)


@lru_cache(maxsize=8)
def regularisation(sweep: Sweep, n: int) -> FloatArray:
    """Return what is added to the voltage's power in every bin; read-only."""
    frequency_hz = bin_frequencies(sweep.rate_hz, n)
    corners_hz = (sweep.start_hz, sweep.faded_in_hz, full_level_to_hz(sweep), sweep.stop_hz)
    outside, inside = math.log(REGULARISATION_OUTSIDE), math.log(REGULARISATION_INSIDE)
    share = np.exp(np.interp(frequency_hz, corners_hz, (outside, inside, inside, outside)))
    power = np.zeros_like(frequency_hz)
    power[1:] = 2.0 * sweep.level_v**2 / np.abs(inverse_sweep(sweep, n)[1:]) ** 2
    power[0] = power[1]
    power *= share
    power.flags.writeable = False
    return power


def regularised_ratio(spectra: Spectra, role: Role) -> ComplexArray:
    """Return channel over voltage where the sweep has power, falling to zero where it has none."""
    voltage = spectra.by_role["voltage"]
    power = voltage.real**2
    power += voltage.imag**2
    power += regularisation(spectra.sweep, spectra.n)
    ratio: ComplexArray = np.conjugate(voltage)
    ratio *= spectra.by_role[role]
    ratio /= power
    ratio[: math.ceil(spectra.sweep.faded_in_hz / spectra.step_hz)] = 0.0
    return ratio


def peak_of(magnitude: FloatArray) -> float:
    """Return where values peak, with the fraction that a parabola through three of them gives."""
    peak = int(np.argmax(magnitude))
    if not 0 < peak < magnitude.size - 1:
        return float(peak)
    before, top, after = (float(value) for value in magnitude[peak - 1 : peak + 2])
    bend = 2.0 * top - before - after
    return peak + (0.5 * (after - before) / bend if bend > 0.0 else 0.0)


def cut_to_gate(impulse: FloatArray, gate: Gate, rate_hz: float) -> None:
    """Set all outside the gate to zero in an impulse response, which is periodic."""
    n = impulse.size
    before = min(math.ceil(gate.before_s * rate_hz), n // 2)
    after = min(math.ceil(gate.after_s * rate_hz), n - before)
    places = round(gate.peak_s * rate_hz) + np.arange(-before, after)
    weights = gate.weights(places / rate_hz - gate.peak_s)
    first = int(places[0]) % n
    split = min(n - first, weights.size)  # the gate may reach round the end
    rest = weights.size - split
    impulse[first : first + split] *= weights[:split]
    impulse[:rest] *= weights[split:]
    impulse[rest:first] = 0.0
    impulse[first + split :] = 0.0


def extension(lowest: ComplexArray, spectra: Spectra, gate: Gate) -> ComplexArray:
    """Return what a gated spectrum lacks in its lowest bins because the sweep has a start.

    The continuation below it is gated like the rest, as a signal of few samples over the same
    time: only low bins are concerned.
    """
    below = continuation(lowest, spectra, gate.peak_s)
    n = even_fast_length(2 * max(lowest.size, below.size))
    period_s = 1.0 / spectra.step_hz
    time_s = np.arange(n, dtype=np.float64) * (period_s / n) - gate.peak_s
    weights = gate.weights((time_s + gate.before_s) % period_s - gate.before_s)
    added: ComplexArray = scipy.fft.rfft(weights * scipy.fft.irfft(below, n))[: lowest.size]
    return added


def continuation(values: ComplexArray, spectra: Spectra, delay_s: float) -> ComplexArray:
    """Return the response below the sweep's start, continued from just above it."""
    stop = min(math.ceil(spectra.sweep.faded_in_hz / spectra.step_hz), values.size - 1)
    fitted = np.arange(stop, min(math.ceil(CONTINUED_FROM_RATIO * stop) + 1, values.size))
    ramp = phase_ramp(int(fitted[-1]) + 1, spectra.step_hz, -delay_s)
    below = continued_below(values[fitted] * ramp[fitted], stop)
    below *= ramp[:stop].conj()
    return below
