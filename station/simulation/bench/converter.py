"""From signals in Pa, V and A to the samples an audio interface delivers, faults included."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.random import Generator
from scipy.signal import czt

from station.hardware.files.stationfile import StationFile
from station.simulation.arrays import FloatArray

LATENCY_SAMPLES = 1111
NOISE_RATIO = 10.0 ** (-112.0 / 20.0)  # RMS of each input's own noise over full scale
STEPS = 2.0**23  # 24 bits with sign
LOST_FROM_RATIO, LOST_TO_RATIO = 0.4, 0.6  # of the run, where samples get lost


def delayed(output: FloatArray) -> FloatArray:
    """Return what the output plays while the inputs record: the same, later, its end cut off."""
    return np.pad(output, (LATENCY_SAMPLES, 0))[: output.size]


def stretched(drive: FloatArray, faults: Mapping[str, float]) -> FloatArray:
    """Return what an output plays whose clock is faster than the inputs', band-limited exactly.

    The sample at n is the drive's Fourier series at (1 + p) n: a chirp z-transform.
    """
    drift_ppm = faults.get("station_clock_drift", 0.0)
    if drift_ppm == 0.0:
        return drive
    n = drive.size
    turn = 2.0j * np.pi * (1.0 + 1e-6 * drift_ppm) / n
    spectrum = np.fft.rfft(drive)
    spectrum[0] *= 0.5
    played = czt(spectrum, m=n, w=np.exp(turn))
    return np.asarray(2.0 / n * played.real)


def repeated(rows: FloatArray, faults: Mapping[str, float], rng: Generator) -> FloatArray:
    """Return the rows with some samples played twice in the middle, their end pushed out."""
    count = round(faults.get("station_repeated_samples", 0.0))
    if count == 0:
        return rows
    n_samples = rows.shape[1]
    at = round(float(rng.uniform(LOST_FROM_RATIO, LOST_TO_RATIO)) * n_samples)
    again = rows[:, max(at - count, 0) : at]
    return np.concatenate([rows[:, :at], again, rows[:, at:]], axis=1)[:, :n_samples]


def lost_samples(faults: Mapping[str, float]) -> int:
    """Return how many samples the device will lose."""
    return round(faults.get("station_lost_samples", 0.0))


def captured(
    signals: Mapping[str, FloatArray],
    n_samples: int,
    station: StationFile,
    faults: Mapping[str, float],
    rng: Generator,
) -> FloatArray:
    """Return samples relative to full scale, shape (n_inputs, n_samples), in the file's order.

    `signals` must hold as many samples more as get lost on the way.
    """
    plugged = wired(signals, faults)
    rows = np.stack([plugged[one.role] / one.full_scale for one in station.inputs])
    names = [one.role for one in station.inputs]
    if "station_clipped_input" in faults:
        over = 10.0 ** (faults["station_clipped_input"] / 20.0)
        rows[names.index("microphone")] *= over / np.max(np.abs(rows[names.index("microphone")]))
    rows = without_lost(rows, n_samples, rng)
    rows = repeated(rows, faults, rng)
    rows += NOISE_RATIO * rng.standard_normal(rows.shape)
    samples = np.clip(np.rint(rows * STEPS), -STEPS, STEPS - 1.0) / STEPS
    broken = round(faults.get("station_nan_samples", 0.0))
    if broken > 0:
        at = rng.choice(n_samples, size=min(broken, n_samples), replace=False)
        samples[names.index("microphone"), at] = np.nan
    return np.asarray(samples)


def wired(signals: Mapping[str, FloatArray], faults: Mapping[str, float]) -> dict[str, FloatArray]:
    """Return what is plugged into each input, by the role the station file gives it."""
    plugged = {role: aged(role, signal, faults) for role, signal in signals.items()}
    if "station_silent_microphone" in faults:
        plugged["microphone"] = np.zeros_like(plugged["microphone"])
    if "station_dead_current" in faults:
        plugged["current"] = np.zeros_like(plugged["current"])
    if "station_swapped_channels" in faults:
        plugged["microphone"], plugged["voltage"] = plugged["voltage"], plugged["microphone"]
    if "station_swapped_voltage_current" in faults:
        plugged["current"], plugged["voltage"] = plugged["voltage"], plugged["current"]
    return plugged


def aged(role: str, signal: FloatArray, faults: Mapping[str, float]) -> FloatArray:
    """Return what a sensor gives that has lost sensitivity since it was calibrated."""
    lost_db = faults.get(f"station_aged_{role}", 0.0)
    return np.asarray(signal * 10.0 ** (-lost_db / 20.0)) if lost_db else signal


def without_lost(rows: FloatArray, n_samples: int, rng: Generator) -> FloatArray:
    """Return the rows shortened to `n_samples` by a gap somewhere in the middle."""
    surplus = rows.shape[1] - n_samples
    if surplus == 0:
        return rows
    at = round(float(rng.uniform(LOST_FROM_RATIO, LOST_TO_RATIO)) * n_samples)
    return np.asarray(np.delete(rows, np.s_[at : at + surplus], axis=1))
