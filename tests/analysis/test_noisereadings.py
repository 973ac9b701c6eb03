"""What the lead-in's noise says the sweep's readings hold of it, against noise drawn many times.

The unit and its paths are closed forms (closedforms.py), so that the readings without noise are
known; every draw adds fresh noise to all three channels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
import scipy.fft

from station.analysis.acoustic.harmonics import harmonic_distortion
from station.analysis.acoustic.polarity import section_states
from station.analysis.acoustic.response import response_level, sensitivity
from station.analysis.acoustic.rub import rub_and_buzz
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.impedance import impedance
from station.analysis.electric.resonance import resonance
from station.analysis.readings import Number
from station.analysis.recording import Recording, Role
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.noisedensity import noise_density
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.analysis.trust.acousticnoise import (
    gated_noise,
    noise_power,
    response_noise,
    section_uncertainty_db,
    sensitivity_uncertainty_db,
)
from station.analysis.trust.electricnoise import (
    electric_noise,
    minimum_uncertainty_ohm,
    resonance_uncertainty_hz,
)
from station.analysis.trust.residualnoise import distortion_noise, rub_noise
from station.errors import NoSignalError
from tests.analysis.closedforms import SWEEP as SHORT_LEAD
from tests.analysis.closedforms import admittance, one, recording_of, through, two_way
from tests.analysis.goodunit import FLIGHT_SAMPLES, LATENCY_SAMPLES, PLAN, SOURCE_OHM

SWEEP = replace(SHORT_LEAD, lead_in_s=0.25)
DRAWS = 120
ROOM_DB_SPL = 55.0
CONVERTER_RATIO = 1e-5  # of 20 V and 20 A
NOISE_FROM_HZ, NOISE_TO_HZ = 20.0, 20e3


@dataclass(frozen=True)
class Drawn:
    """What one recording reads, and what its lead-in says of the noise in it."""

    numbers: dict[str, Number]
    transfer: ComplexArray
    curves: dict[str, FloatArray]
    noise: dict[str, FloatArray]


def clean_signals() -> dict[Role, FloatArray]:
    """Return what the channels hear of a linear unit, without any noise."""
    rate_hz = SWEEP.rate_hz
    amplifier_v = through(sweep_voltage(SWEEP), one, rate_hz, LATENCY_SAMPLES)
    voltage_v = through(amplifier_v, lambda hz: 1.0 / (1.0 + SOURCE_OHM * admittance(hz)), rate_hz)
    return {
        "microphone": through(voltage_v, two_way, rate_hz, FLIGHT_SAMPLES),
        "voltage": voltage_v,
        "current": through(voltage_v, admittance, rate_hz),
    }


def pink_pa(rng: np.random.Generator) -> FloatArray:
    """Return pink noise of 55 dB SPL between 20 Hz and 20 kHz."""
    hz = scipy.fft.rfftfreq(SWEEP.n_samples, 1.0 / SWEEP.rate_hz)
    inside = (hz >= NOISE_FROM_HZ) & (hz <= NOISE_TO_HZ)
    shape = np.where(inside, 1.0 / np.sqrt(np.maximum(hz, 1.0)), 0.0)
    values = rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size)
    noise = scipy.fft.irfft(shape * values, SWEEP.n_samples)
    return np.asarray(noise * (20e-6 * 10.0 ** (ROOM_DB_SPL / 20.0) / noise.std()))


def drawn(signals: dict[Role, FloatArray]) -> Drawn:
    """Read everything that states its noise."""
    recording = recording_of(SWEEP, signals)
    spectra = spectra_of(recording)
    response = gated_transfer(spectra, "microphone", PLAN.response.gate_s)
    heard = gated_noise(
        noise_density(recording, "microphone"), spectra, response, PLAN.response.gate_s
    )
    assert PLAN.sensitivity is not None
    assert PLAN.reference is not None
    assert PLAN.impedance is not None
    assert PLAN.resonance is not None
    assert PLAN.distortion is not None
    assert PLAN.rub is not None
    numbers = {
        "sensitivity": Number(
            sensitivity(response, PLAN.sensitivity, PLAN.response, SWEEP, 1.0),
            "dB",
            sensitivity_uncertainty_db(heard, spectra, response, PLAN.sensitivity, PLAN.response),
        )
    }
    states = section_states(response, PLAN.reference, PLAN.sections, SWEEP, 1.0)
    for section in PLAN.sections:
        level_db = states[section.name].level_db
        spread_db = section_uncertainty_db(heard, spectra, PLAN.reference, section, level_db)
        numbers[section.name] = Number(level_db, "dB", spread_db)
    z = impedance(spectra, PLAN.impedance)
    peak = resonance(z, PLAN.resonance)
    electric = electric_noise(recording, spectra, PLAN.impedance.gate_s)
    numbers["fs"] = Number(peak.fs_hz, "Hz", resonance_uncertainty_hz(electric, z, peak))
    numbers["minimum"] = Number(z.minimum_ohm, "Ω", minimum_uncertainty_ohm(electric, z))
    thd = harmonic_distortion(spectra, response, PLAN.distortion)
    of_noise = distortion_noise(
        heard.density, spectra, response, PLAN.distortion, PLAN.reference, 1.0
    )
    return Drawn(
        numbers,
        response.values,
        {
            "response": response_level(response, PLAN.response, SWEEP, 1.0).values,
            "thd": thd.thd_db,
            "h3": thd.h_db[3],
            "rub": rub_and_buzz(spectra, response, PLAN.rub, 1.0).peak_db_spl,
        },
        {
            "power": noise_power(heard, spectra, CENTRES_HZ, 3),
            "response": response_noise(heard, spectra, PLAN.response, 1.0).values,
            "thd": of_noise["thd"].values,
            "h3": of_noise["h3"].values,
            "rub": rub_noise(heard.density, spectra, PLAN.rub, 1.0).values,
        },
    )


CENTRES_HZ = band_centres(40.0, 16e3, 3)


@pytest.fixture(scope="module")
def quiet() -> Drawn:
    return drawn(clean_signals())


@pytest.fixture(scope="module")
def draws() -> list[Drawn]:
    rng = np.random.default_rng(11)
    clean = clean_signals()
    found = []
    for _ in range(DRAWS):
        noisy = {
            role: signal + 20.0 * CONVERTER_RATIO * rng.standard_normal(signal.size)
            for role, signal in clean.items()
        }
        noisy["microphone"] = noisy["microphone"] + pink_pa(rng)
        found.append(drawn(noisy))
    return found


@pytest.mark.parametrize("name", ["sensitivity", "woofer", "tweeter", "fs", "minimum"])
def test_uncertainties_are_as_large_as_the_errors(
    quiet: Drawn, draws: list[Drawn], name: str
) -> None:
    truth = quiet.numbers[name].value
    scores = [(draw.numbers[name].value - truth) / draw.numbers[name].uncertainty for draw in draws]
    # The RMS of 120 standard normal values is 1 with a spread of 1 / sqrt(240) = 0.065.
    assert 0.85 < math.sqrt(np.mean(np.square(scores))) < 1.15


def test_noise_in_the_response_is_as_strong_as_the_lead_in_says(
    quiet: Drawn, draws: list[Drawn]
) -> None:
    errors = [np.abs(draw.transfer - quiet.transfer) ** 2 for draw in draws]
    step_hz = SWEEP.rate_hz / (2 * (quiet.transfer.size - 1))
    true = band_power(np.mean(errors, axis=0), step_hz, *band_edges(CENTRES_HZ, 3))
    said = np.mean([draw.noise["power"] for draw in draws], axis=0)
    # Below 80 Hz the lead-in of 0.25 s is read over a span that reaches below the noise's own end.
    above = CENTRES_HZ > 75.0
    assert 10.0 * np.log10(said / true)[above] == pytest.approx(0.0, abs=0.6)
    assert 10.0 * np.log10(said / true) == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize("name", ["thd", "h3"])
def test_distortion_of_a_linear_unit_is_the_noise_that_the_lead_in_foretells(
    draws: list[Drawn], name: str
) -> None:
    read = np.mean([10.0 ** (draw.curves[name] / 10.0) for draw in draws], axis=0)
    said = np.mean([10.0 ** (draw.noise[name] / 10.0) for draw in draws], axis=0)
    assert 10.0 * np.log10(said / read) == pytest.approx(0.0, abs=0.6)


def test_rub_of_a_linear_unit_is_the_peak_that_the_lead_in_foretells(draws: list[Drawn]) -> None:
    read = np.median([draw.curves["rub"] for draw in draws], axis=0)
    said = np.median([draw.noise["rub"] for draw in draws], axis=0)
    # Pink noise peaks lower than white noise of the same bandwidth would: up to 1.5 dB.
    assert np.all(read - said > -0.3)
    assert np.all(read - said < 1.5)


def test_noise_has_the_level_of_the_response_it_would_make(draws: list[Drawn]) -> None:
    # Far above the noise: 86 dB beside some 50 dB.
    ratio_db = draws[0].curves["response"] - draws[0].noise["response"]
    assert 15.0 < np.min(ratio_db) < np.max(ratio_db) < 50.0


def white(lead_in_s: float, density: float, seed: int = 3) -> Recording:
    sweep = replace(SWEEP, lead_in_s=lead_in_s)
    spread = math.sqrt(0.5 * density * sweep.rate_hz)
    noise_pa = spread * np.random.default_rng(seed).standard_normal(sweep.n_samples)
    return recording_of(sweep, {"microphone": noise_pa, "voltage": sweep_voltage(sweep)})


def test_white_noise_has_its_own_density() -> None:
    # Variance sigma^2 over half the sampling rate: S = 2 sigma^2 / fs.
    found = noise_density(white(1.0, 1e-8), "microphone")
    hz = np.geomspace(100.0, 40e3, 50)
    assert 10.0 * np.log10(found.at(hz) / 1e-8) == pytest.approx(0.0, abs=2.0)
    assert np.mean(found.at(hz)) == pytest.approx(1e-8, rel=0.05)


def test_a_constant_offset_is_no_noise() -> None:
    recording = white(0.25, 1e-8)
    moved = replace(recording, samples=recording.samples + 0.1)
    before, after = (noise_density(each, "microphone") for each in (recording, moved))
    assert after.density == pytest.approx(before.density, rel=1e-6)


def test_noise_is_what_an_ideal_microphone_would_have_heard() -> None:
    recording = white(0.25, 1e-8)
    deaf = MicrophoneResponse(np.array([10.0, 40e3]), np.full(2, -6.0), np.zeros(2))
    corrected = noise_density(replace(recording, microphone_response=deaf), "microphone")
    plain = noise_density(recording, "microphone")
    assert corrected.density == pytest.approx(plain.density * 10.0**0.6, rel=1e-9)


def test_a_silent_lead_in_has_no_density() -> None:
    found = noise_density(white(0.25, 0.0), "microphone")
    assert not found.density.any()


def test_a_lead_in_too_short_to_hear_noise_is_told() -> None:
    with pytest.raises(NoSignalError, match="too short"):
        noise_density(white(0.04, 1e-8), "microphone")


def test_noise_of_a_silent_unit_is_referred_to_what_the_reference_unit_plays() -> None:
    clean = clean_signals()
    rng = np.random.default_rng(4)
    room_pa = pink_pa(rng)
    dead = clean | {"microphone": 1e-6 * clean["microphone"] + room_pa}
    assert PLAN.distortion is not None
    found = {}
    for name, signals in (
        ("dead", dead),
        ("good", clean | {"microphone": clean["microphone"] + room_pa}),
    ):
        recording = recording_of(SWEEP, signals)
        spectra = spectra_of(recording)
        response = gated_transfer(spectra, "microphone", PLAN.response.gate_s)
        density = noise_density(recording, "microphone")
        found[name] = distortion_noise(
            density, spectra, response, PLAN.distortion, PLAN.reference, 1.0
        )["thd"].values
    assert found["dead"] == pytest.approx(found["good"], abs=0.3)
