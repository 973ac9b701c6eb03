"""Whatever was recorded: distortion, rub and impedance come out finite, or say why not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.harmonics import harmonic_distortion
from station.analysis.acoustic.rub import rub_and_buzz
from station.analysis.arrays import FloatArray
from station.analysis.electric.impedance import impedance
from station.analysis.electric.resonance import resonance
from station.analysis.plan import DistortionPlan, ImpedancePlan, ResonancePlan, RubPlan
from station.analysis.recording import Channel, Recording
from station.analysis.signals.spectra import Spectra, spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.errors import NoSignalError

SWEEP = Sweep(60.0, 75.0, 7000.0, 0.1, 1.0, 0.02, 0.05, 16e3)
CHANNELS = (Channel("microphone", 20.0), Channel("voltage", 20.0), Channel("current", 5.0))
KINDS = ("zeros", "constant", "noise", "click", "sweep", "clipped", "square")


def channel(kind: str, gain: float, seed: int, n: int) -> FloatArray:
    """Return something an input may deliver, within full scale."""
    rng = np.random.default_rng(seed)
    sweep = np.resize(0.5 * sweep_voltage(SWEEP), n)
    made = {
        "zeros": np.zeros(n),
        "constant": np.ones(n),
        "noise": rng.standard_normal(n),
        "click": np.eye(1, n, int(rng.integers(n)))[0],
        "sweep": sweep,
        "clipped": np.clip(3.0 * sweep, -0.5, 0.5),
        "square": np.sign(sweep),
    }
    return np.clip(gain * made[kind], -1.0, 1.0)


def distortion(spectra: Spectra) -> list[FloatArray]:
    response = gated_transfer(spectra, "microphone", 0.02)
    result = harmonic_distortion(spectra, response, DistortionPlan(100.0, 600.0, 3, (2, 5, 10)))
    return [result.thd_db, *result.h_db.values()]


def rub(spectra: Spectra) -> list[FloatArray]:
    response = gated_transfer(spectra, "microphone", 0.02)
    result = rub_and_buzz(spectra, response, RubPlan(100.0, 400.0, 1000.0, 6000.0), 1.0)
    return [result.peak_db_spl, result.crest_db]


IMPEDANCE = ImpedancePlan(100.0, 6000.0, 12, 0.03, 300.0, 5000.0)


def electrical(spectra: Spectra) -> list[FloatArray]:
    result = impedance(spectra, IMPEDANCE)
    minimum = np.array([result.minimum_ohm, result.minimum_hz])
    return [result.magnitude_ohm, result.phase_deg, minimum]


def motional(spectra: Spectra) -> list[FloatArray]:
    found = resonance(impedance(spectra, IMPEDANCE), ResonancePlan(100.0, 1000.0))
    return [np.array([found.fs_hz, found.qms, found.qts, found.peak_ohm])]


def outcome(
    reading: Callable[[Spectra], list[FloatArray]], spectra: Spectra
) -> list[FloatArray] | NoSignalError:
    try:
        return reading(spectra)
    except NoSignalError as error:
        return error


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    kinds=st.tuples(*[st.sampled_from(KINDS)] * 3),
    gains=st.tuples(*[st.sampled_from([1e-7, 1e-3, 0.3, 1.0, 3.0])] * 3),
    seed=st.integers(0, 100),
    n=st.sampled_from([1, 2, 7, 500, SWEEP.n_samples - 100, SWEEP.n_samples, 5000]),
)
def test_readings_are_finite_or_missing_with_a_reason(
    kinds: tuple[str, ...], gains: tuple[float, ...], seed: int, n: int
) -> None:
    samples = np.stack(
        [
            channel(kind, gain, seed + row, n)
            for row, (kind, gain) in enumerate(zip(kinds, gains, strict=True))
        ]
    )
    spectra = spectra_of(Recording(samples, CHANNELS, SWEEP, 1.0))
    for reading in (distortion, rub, electrical, motional):
        values = outcome(reading, spectra)
        if isinstance(values, NoSignalError):
            assert (values.happened[-1], values.remedy[-1]) == (".", ".")
        else:
            assert all(np.isfinite(array).all() for array in values)
