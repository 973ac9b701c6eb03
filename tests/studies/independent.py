"""Where another implementation does the same: the largest deviation from it.

pyfar and scipy compute some of what the station computes. No independent implementation of the
synchronized sweep's harmonic separation could be had from the package registry, so that is checked
against closed forms only (`accuracy_thd`). Run by `python -m tests.studies.independent`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyfar
import scipy.signal

from station.analysis.acoustic.filtersetting import filter_setting
from station.analysis.acoustic.idlenoise import equivalent_level_db_spl
from station.analysis.acoustic.response import SPEED_OF_SOUND_M_PER_S
from station.analysis.plan import FilterPlan
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.analysis.signals.weighting import Weighting, weighting_db
from tests.analysis.closedforms import SWEEP, one, played, sealed_box, two_way
from tests.studies.tables import table


@dataclass(frozen=True, slots=True)
class Comparison:
    """One thing computed twice, and how far apart the two are at most."""

    what: str
    other: str
    worst: float
    unit: str
    why: str


def sweep_samples() -> Comparison:
    """Compare the sweep's samples between its fades.

    The stop frequency makes it last a whole number of samples, to which pyfar rounds.
    """
    start_hz, rate_s, rate_hz, samples = 20.0, 0.15, 48e3, 49_700
    stop_hz = start_hz * math.exp(samples / rate_hz / rate_s)
    sweep = Sweep(start_hz, 25.0, stop_hz, samples / rate_hz, math.sqrt(0.5), 0.0, 0.1, rate_hz)
    theirs = pyfar.signals.exponential_sweep_time(
        samples, (start_hz, stop_hz), n_fade_out=0, sampling_rate=rate_hz
    ).time[0]
    first, last = (round(sweep.time_of(at_hz) * rate_hz) for at_hz in (26.0, 18e3))
    apart = np.abs(sweep_voltage(sweep)[first:last] - theirs[first:last])
    return Comparison(
        "sweep between its fades",
        "pyfar exponential_sweep_time",
        float(np.max(apart)),
        "of peak",
        "rounding",
    )


def deconvolution() -> Comparison:
    """Compare a transfer function with the whole recording's gate open."""
    recording = played(SWEEP, two_way, flight_samples=280.0)
    ours = gated_transfer(spectra_of(recording), "microphone", 0.35)
    microphone, voltage = (
        pyfar.Signal(recording.in_unit(role), SWEEP.rate_hz, fft_norm="none")
        for role in ("microphone", "voltage")
    )
    inversion = pyfar.dsp.RegularizedSpectrumInversion.from_frequency_range(voltage, (20.0, 40e3))
    theirs = (microphone.freq * inversion.invert.freq)[0]
    frequency_hz = np.asarray(microphone.frequencies)
    inside = (frequency_hz > 60.0) & (frequency_hz < 20e3)
    level_db = np.interp(
        frequency_hz[inside], ours.frequency_hz, 20.0 * np.log10(np.abs(ours.values))
    )
    apart_db = np.abs(level_db - 20.0 * np.log10(np.abs(theirs[inside])))
    return Comparison(
        "transfer function, 60 Hz to 20 kHz", "pyfar RegularizedSpectrumInversion",
        float(np.max(apart_db)), "dB", "it has no gate: a tail beyond 0.35 s",
    )  # fmt: skip


def smoothing(bands_per_octave: int) -> Comparison:
    """Compare fractional-octave means of a power."""
    n, rate_hz = 2**16, 48e3
    frequency_hz = np.fft.rfftfreq(n, 1.0 / rate_hz)
    power = np.abs(sealed_box(frequency_hz)) ** 2
    spectrum = pyfar.Signal(power, rate_hz, n_samples=n, domain="freq", fft_norm="none")
    smoothed, _ = pyfar.dsp.smooth_fractional_octave(spectrum, bands_per_octave)
    centres_hz = band_centres(100.0, 18e3, bands_per_octave)
    theirs = np.interp(centres_hz, frequency_hz, np.abs(smoothed.freq[0]))
    ours = band_power(power, rate_hz / n, *band_edges(centres_hz, bands_per_octave))
    return Comparison(
        f"1/{bands_per_octave}-octave means, 100 Hz to 18 kHz", "pyfar smooth_fractional_octave",
        float(np.max(np.abs(10.0 * np.log10(ours / theirs)))), "dB",
        "it averages over log frequency, a band filter over frequency",
    )  # fmt: skip


def centres(bands_per_octave: int) -> Comparison:
    """Compare exact band centres."""
    theirs = np.asarray(
        pyfar.constants.fractional_octave_frequencies_exact(bands_per_octave, (20.0, 20e3))[0]
    )
    ours = band_centres(float(theirs[0]), float(theirs[-1]), bands_per_octave)
    return Comparison(
        f"centres of 1/{bands_per_octave}-octave bands",
        "pyfar fractional_octave_frequencies_exact",
        float(np.max(np.abs(ours / theirs - 1.0))), "ratio", "rounding",
    )  # fmt: skip


def weighting(curve: Weighting) -> Comparison:
    """Compare a frequency weighting."""
    frequency_hz = np.geomspace(10.0, 40e3, 500)
    theirs = pyfar.constants.frequency_weighting_curve(curve, frequency_hz)
    return Comparison(
        f"{curve} weighting, 10 Hz to 40 kHz", "pyfar frequency_weighting_curve",
        float(np.max(np.abs(weighting_db(frequency_hz, curve) - theirs))), "dB",
        "it takes what brings 1 kHz to zero rounded to 0.001 dB",
    )  # fmt: skip


def level() -> Comparison:
    """Compare the unweighted level of noise with the RMS of its samples."""
    noise_pa = 1e-3 * np.random.default_rng(5).standard_normal(480_000)
    signal = pyfar.Signal(noise_pa - noise_pa.mean(), 48e3)
    theirs_db = 20.0 * math.log10(float(pyfar.dsp.rms(signal)[0]) / REFERENCE_PRESSURE_PA)
    ours_db = equivalent_level_db_spl(noise_pa, 48e3, "Z")
    return Comparison(
        "unweighted level of 10 s of noise", "pyfar rms", abs(ours_db - theirs_db), "dB",
        "the ends of a recording weigh less through a window",
    )  # fmt: skip


def weighted_level() -> Comparison:
    """Compare the A-weighted level of noise with that behind a filter in time."""
    noise_pa = 1e-3 * np.random.default_rng(6).standard_normal(960_000)
    filtered = pyfar.dsp.filter.frequency_weighting_filter(pyfar.Signal(noise_pa, 96e3), "A")
    theirs_db = 20.0 * math.log10(float(pyfar.dsp.rms(filtered)[0]) / REFERENCE_PRESSURE_PA)
    ours_db = equivalent_level_db_spl(noise_pa, 96e3, "A")
    return Comparison(
        "A-weighted level of 10 s of white noise", "pyfar frequency_weighting_filter",
        abs(ours_db - theirs_db), "dB", "a bilinear filter bends towards half the sampling rate",
    )  # fmt: skip


def delay() -> Comparison:
    """Compare the arrival of an impulse response; that of a wire, which has no phase of its own."""
    recording = played(SWEEP, one, flight_samples=280.4)
    transfer = gated_transfer(spectra_of(recording), "microphone", 0.1)
    impulse = pyfar.Signal(np.fft.irfft(transfer.values), SWEEP.rate_hz)
    theirs = float(pyfar.dsp.find_impulse_response_delay(impulse)[0])
    return Comparison(
        "arrival of the sound", "pyfar find_impulse_response_delay",
        abs(transfer.delay_s * SWEEP.rate_hz - theirs), "samples",
        "a parabola through three samples of the peak",
    )  # fmt: skip


def corner() -> Comparison:
    """Compare a filter's corner with the one scipy designed it for."""
    frequency_hz = band_centres(10.0, 10e3, 12)
    b, a = scipy.signal.butter(4, 2.0 * math.pi * 80.0, "lowpass", analog=True)
    _, response = scipy.signal.freqs(b, a, 2.0 * math.pi * frequency_hz)
    plan = FilterPlan("low-pass", 10.0, 20.0, 200.0, 1000.0)
    found = filter_setting(frequency_hz, 20.0 * np.log10(np.abs(response)), plan)
    return Comparison(
        "corner of a fourth-order low-pass", "scipy butter", abs(found.corner_hz / 80.0 - 1.0),
        "ratio", "a parabola through twelfths of an octave",
    )  # fmt: skip


def speed_of_sound() -> Comparison:
    """Compare the speed of sound that flight times are taken out with."""
    theirs = float(pyfar.constants.speed_of_sound_simple(20.0))
    return Comparison(
        "speed of sound at 20 °C", "pyfar speed_of_sound_simple (ISO 9613-1)",
        abs(SPEED_OF_SOUND_M_PER_S / theirs - 1.0), "ratio", "rounding",
    )  # fmt: skip


def comparisons() -> tuple[Comparison, ...]:
    """Return all of them."""
    return (
        sweep_samples(),
        deconvolution(),
        *(smoothing(fraction) for fraction in (3, 12, 24)),
        *(centres(fraction) for fraction in (1, 3)),
        weighting("A"),
        weighting("C"),
        level(),
        weighted_level(),
        delay(),
        corner(),
        speed_of_sound(),
    )


def printed() -> str:
    """Return the table."""
    rows = [
        [each.what, each.other, f"{each.worst:.2g} {each.unit}", each.why] for each in comparisons()
    ]
    return table("Against other implementations", ["what", "other", "worst", "why"], rows)


if __name__ == "__main__":
    print(printed())
