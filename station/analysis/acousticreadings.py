"""All readings of the microphones while the sweep plays."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from station.analysis.acoustic.dipole import sound_behind
from station.analysis.acoustic.filtersetting import filter_setting
from station.analysis.acoustic.harmonics import harmonic_distortion
from station.analysis.acoustic.polarity import first_half_wave, section_states
from station.analysis.acoustic.response import response_level, sensitivity
from station.analysis.acoustic.rub import rub_and_buzz
from station.analysis.gathering import (
    DIPOLE_NAMES,
    FILTER_NAMES,
    NOISE_PREFIX,
    RUB_NAMES,
    acoustic_names,
    attempted,
    distortion_names,
    missing,
    noise_names,
    one_number,
    section_names,
)
from station.analysis.plan import (
    DipolePlan,
    DistortionPlan,
    FilterPlan,
    Plan,
    RubPlan,
    SensitivityPlan,
)
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Recording
from station.analysis.signals.noisedensity import noise_density
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.analysis.trust.acousticnoise import (
    GatedNoise,
    gated_noise,
    response_noise,
    section_uncertainty_db,
    sensitivity_uncertainty_db,
)
from station.analysis.trust.residualnoise import distortion_noise, rub_noise
from station.errors import NoSignalError


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A recording with the microphone's response, and the noise it holds if that can be told."""

    recording: Recording
    spectra: Spectra
    response: Transfer
    plan: Plan
    noise: GatedNoise | None = None


def acoustic_readings(recording: Recording, spectra: Spectra, plan: Plan) -> Iterator[Readings]:
    """Yield all readings of the microphones while the sweep plays."""
    try:
        response = gated_transfer(spectra, "microphone", plan.response.gate_s)
    except NoSignalError as error:
        yield missing(acoustic_names(plan), error.happened, error.remedy)
        return
    heard = Heard(recording, spectra, response, plan)
    try:
        density = noise_density(recording, "microphone")
        noise = gated_noise(density, spectra, response, plan.response.gate_s)
        heard = replace(heard, noise=noise)
        yield attempted(noise_names(plan), lambda: noise_readings(heard, noise))
    except NoSignalError as error:
        yield missing(noise_names(plan), error.happened, error.remedy)
    yield one_number("delay", response.delay_s, "s")
    yield from linear_readings(heard)
    if (distortion := plan.distortion) is not None:
        yield attempted(distortion_names(plan), lambda: distortion_readings(heard, distortion))
    if (rub := plan.rub) is not None:
        yield attempted(RUB_NAMES, lambda: rub_readings(heard, rub))
    if (dipole := plan.dipole) is not None:
        yield attempted(DIPOLE_NAMES, lambda: dipole_readings(heard, dipole))


def linear_readings(heard: Heard) -> Iterator[Readings]:
    """Yield the response and all that is read from it."""
    plan = heard.plan
    response = attempted(("response",), lambda: response_reading(heard))
    yield response
    if (level := plan.sensitivity) is not None:
        yield attempted(("sensitivity",), lambda: sensitivity_reading(heard, level))
    if plan.sections:
        yield attempted(section_names(plan), lambda: section_readings(heard))
    if (setting := plan.filter) is not None:
        if "response" in response.missing:
            yield missing(FILTER_NAMES, *response.missing["response"])
        else:
            curve = response.curves["response"]
            yield attempted(FILTER_NAMES, lambda: filter_readings(curve, setting))


def noise_readings(heard: Heard, noise: GatedNoise) -> Readings:
    """Return what noise alone would have read, as curves."""
    plan, distance_m = heard.plan, heard.recording.distance_m
    curves = {"response": response_noise(noise, heard.spectra, plan.response, distance_m)}
    if plan.distortion is not None:
        curves |= distortion_noise(
            noise.density,
            heard.spectra,
            heard.response,
            plan.distortion,
            plan.reference,
            distance_m,
        )
    if plan.rub is not None:
        curves["rub"] = rub_noise(noise.density, heard.spectra, plan.rub, distance_m)
    return Readings(curves={f"{NOISE_PREFIX}{name}": curve for name, curve in curves.items()})


def response_reading(heard: Heard) -> Readings:
    """Return the response curve."""
    recording = heard.recording
    curve = response_level(
        heard.response, heard.plan.response, recording.sweep, recording.distance_m
    )
    return Readings(curves={"response": curve})


def sensitivity_reading(heard: Heard, level: SensitivityPlan) -> Readings:
    """Return the sensitivity."""
    recording, stated = heard.recording, heard.plan.response
    level_db_spl = sensitivity(heard.response, level, stated, recording.sweep, recording.distance_m)
    spread_db = math.nan
    if heard.noise is not None:
        spread_db = sensitivity_uncertainty_db(
            heard.noise, heard.spectra, heard.response, level, stated
        )
    return one_number("sensitivity", level_db_spl, "dB", spread_db)


def distortion_readings(heard: Heard, plan: DistortionPlan) -> Readings:
    """Return the curves of all harmonics and of their sum."""
    result = harmonic_distortion(heard.spectra, heard.response, plan)
    curves = {"thd": Curve(result.frequency_hz, result.thd_db, "dB")}
    for order, level_db in result.h_db.items():
        curves[f"h{order}"] = Curve(result.frequency_hz, level_db, "dB")
    return Readings(curves=curves)


def rub_readings(heard: Heard, plan: RubPlan) -> Readings:
    """Return the curves of rub and buzz."""
    result = rub_and_buzz(heard.spectra, heard.response, plan, heard.recording.distance_m)
    return Readings(
        curves={
            "rub": Curve(result.frequency_hz, result.peak_db_spl, "dB"),
            "rub_crest": Curve(result.frequency_hz, result.crest_db, "dB"),
        }
    )


def section_readings(heard: Heard) -> Readings:
    """Return polarity and level of each section; without a reference, polarity alone."""
    plan, recording = heard.plan, heard.recording
    if plan.reference is None:
        signs = {s.name: first_half_wave(heard.response, s) for s in plan.sections}
        return Readings(
            numbers={f"polarity.{name}": Number(sign, "ratio") for name, sign in signs.items()}
        )
    states = section_states(
        heard.response, plan.reference, plan.sections, recording.sweep, recording.distance_m
    )
    numbers: dict[str, Number] = {}
    for section in plan.sections:
        state = states[section.name]
        spread_db = math.nan
        if heard.noise is not None:
            spread_db = section_uncertainty_db(
                heard.noise, heard.spectra, plan.reference, section, state.level_db
            )
        numbers[f"polarity.{section.name}"] = Number(state.polarity_ratio, "ratio")
        level = one_number(f"level.{section.name}", state.level_db, "dB", spread_db)
        numbers |= level.numbers
    return Readings(numbers=numbers)


def filter_readings(response: Curve, plan: FilterPlan) -> Readings:
    """Return corner and slope of a filter; their uncertainty is the scatter about the fit."""
    found = filter_setting(response.frequency_hz, response.values, plan)
    return Readings(
        numbers={
            "filter_corner": Number(found.corner_hz, "Hz", found.corner_u_hz),
            "filter_slope": Number(
                found.slope_db_per_octave, "dB/octave", found.slope_u_db_per_octave
            ),
        }
    )


def dipole_readings(heard: Heard, plan: DipolePlan) -> Readings:
    """Return how the sound behind the unit compares with the sound before it."""
    behind = gated_transfer(heard.spectra, "rear", heard.plan.response.gate_s)
    found = sound_behind(heard.response, behind, plan)
    return Readings(
        numbers={
            "dipole": Number(found.correlation_ratio, "ratio"),
            "dipole_opposite": Number(found.opposite_ratio, "ratio"),
            "dipole_delay": Number(found.delay_s, "s"),
        }
    )
