"""From a recording and a plan to all readings, and to what makes the recording worthless."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from station.analysis.ambient import ambient_level
from station.analysis.drive import drive_state
from station.analysis.drivefaults import current_fault, drive_faults
from station.analysis.gathering import (
    IMPEDANCE_NAMES,
    RESONANCE_NAMES,
    RUB_NAMES,
    acoustic_names,
    all_names,
    attempted,
    distortion_names,
    electric_names,
    merged,
    missing,
    one_number,
    section_names,
)
from station.analysis.harmonics import harmonic_distortion
from station.analysis.impedance import ImpedanceResult, impedance
from station.analysis.integrity import FATAL_KINDS, IntegrityFault, sample_faults
from station.analysis.plan import DistortionPlan, Plan, RubPlan, SensitivityPlan
from station.analysis.polarity import first_half_wave, section_states
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Recording
from station.analysis.resonance import resonance
from station.analysis.response import response_level, sensitivity
from station.analysis.rub import rub_and_buzz
from station.analysis.spectra import Spectra, spectra_of
from station.analysis.transfer import Transfer, gated_transfer
from station.errors import NoSignalError


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """All readings of a recording; with any integrity fault they must not be trusted."""

    readings: Readings
    integrity: tuple[IntegrityFault, ...]


def measure(recording: Recording, plan: Plan) -> Measured:
    """Return every reading that a plan asks for.

    Parameters
    ----------
    recording : Recording
        One run.
    plan : Plan
        What to compute.

    Returns
    -------
    Measured
        A reading that cannot be computed is in `readings.missing` with the reason, and stops no
        other. Where a fault leaves nothing to compute, all are missing because of it.

    Raises
    ------
    ValueError
        If the plan contradicts itself; never because of what was recorded.

    References
    ----------
    .. [1] Each reading's own function names its source.
    """
    if plan.resonance is not None and plan.impedance is None:
        raise ValueError("the resonance is read from the impedance, which is not asked for")
    faults = sample_faults(recording, plan)
    if (fatal := first_fatal(faults)) is not None:
        return Measured(missing(all_names(plan), fatal.happened, fatal.remedy), faults)
    spectra = spectra_of(recording)
    state = drive_state(spectra.by_role["voltage"], spectra.start_s, spectra.sweep, spectra.n)
    faults = (*drive_faults(recording, spectra, state, plan.integrity), *faults)
    if (fatal := first_fatal(faults)) is not None:
        return Measured(missing(all_names(plan), fatal.happened, fatal.remedy), faults)
    voltage = Number(state.level_ratio * spectra.sweep.level_v, "V")
    parts = (
        Readings(numbers={"voltage": voltage}),
        attempted(("ambient",), lambda: one_number("ambient", ambient_level(recording), "dB")),
        *acoustic_readings(recording, spectra, plan),
        *electric_readings(spectra, plan),
    )
    readings = merged(parts)
    if "impedance" in readings.missing:
        faults = (*current_fault(spectra), *faults)
    return Measured(readings, faults)


def first_fatal(faults: tuple[IntegrityFault, ...]) -> IntegrityFault | None:
    """Return the first fault that leaves nothing to compute."""
    return next((fault for fault in faults if fault.kind in FATAL_KINDS), None)


def acoustic_readings(recording: Recording, spectra: Spectra, plan: Plan) -> Iterator[Readings]:
    """Yield all readings of the microphone."""
    try:
        response = gated_transfer(spectra, "microphone", plan.response.gate_s)
    except NoSignalError as error:
        yield missing(acoustic_names(plan), error.happened, error.remedy)
        return
    yield one_number("delay", response.delay_s, "s")
    yield attempted(("response",), lambda: response_reading(response, recording, plan))
    if (level := plan.sensitivity) is not None:
        yield attempted(
            ("sensitivity",), lambda: sensitivity_reading(response, recording, plan, level)
        )
    if (distortion := plan.distortion) is not None:
        yield attempted(
            distortion_names(plan),
            lambda: distortion_readings(spectra, response, distortion),
        )
    if (rub := plan.rub) is not None:
        yield attempted(
            RUB_NAMES, lambda: rub_readings(spectra, response, rub, recording.distance_m)
        )
    if plan.sections:
        yield attempted(section_names(plan), lambda: section_readings(response, recording, plan))


def response_reading(response: Transfer, recording: Recording, plan: Plan) -> Readings:
    """Return the response curve."""
    curve = response_level(response, plan.response, recording.sweep, recording.distance_m)
    return Readings(curves={"response": curve})


def sensitivity_reading(
    response: Transfer, recording: Recording, plan: Plan, level: SensitivityPlan
) -> Readings:
    """Return the sensitivity."""
    level_db_spl = sensitivity(
        response, level, plan.response, recording.sweep, recording.distance_m
    )
    return one_number("sensitivity", level_db_spl, "dB")


def distortion_readings(spectra: Spectra, response: Transfer, plan: DistortionPlan) -> Readings:
    """Return the curves of all harmonics and of their sum."""
    result = harmonic_distortion(spectra, response, plan)
    curves = {"thd": Curve(result.frequency_hz, result.thd_db, "dB")}
    for order, level_db in result.h_db.items():
        curves[f"h{order}"] = Curve(result.frequency_hz, level_db, "dB")
    return Readings(curves=curves)


def rub_readings(
    spectra: Spectra, response: Transfer, plan: RubPlan, distance_m: float
) -> Readings:
    """Return the curves of rub and buzz."""
    result = rub_and_buzz(spectra, response, plan, distance_m)
    return Readings(
        curves={
            "rub": Curve(result.frequency_hz, result.peak_db_spl, "dB"),
            "rub_crest": Curve(result.frequency_hz, result.crest_db, "dB"),
        }
    )


def section_readings(response: Transfer, recording: Recording, plan: Plan) -> Readings:
    """Return polarity and level of each section; without a reference, polarity alone."""
    if plan.reference is None:
        signs = {section.name: first_half_wave(response, section) for section in plan.sections}
        return Readings(
            numbers={f"polarity.{name}": Number(sign, "ratio") for name, sign in signs.items()}
        )
    states = section_states(
        response, plan.reference, plan.sections, recording.sweep, recording.distance_m
    )
    numbers = {}
    for name, state in states.items():
        numbers[f"polarity.{name}"] = Number(state.polarity_ratio, "ratio")
        numbers[f"level.{name}"] = Number(state.level_db, "dB")
    return Readings(numbers=numbers)


def electric_readings(spectra: Spectra, plan: Plan) -> Iterator[Readings]:
    """Yield all readings of the current."""
    if (electric := plan.impedance) is None:
        return
    try:
        result = impedance(spectra, electric)
    except NoSignalError as error:
        yield missing(electric_names(plan), error.happened, error.remedy)
        return
    yield attempted(IMPEDANCE_NAMES, lambda: impedance_readings(result))
    if (peak := plan.resonance) is not None:
        yield attempted(
            RESONANCE_NAMES, lambda: one_number("fs", resonance(result, peak).fs_hz, "Hz")
        )


def impedance_readings(result: ImpedanceResult) -> Readings:
    """Return the impedance's curves and its minimum."""
    return Readings(
        numbers={
            "impedance_min": Number(result.minimum_ohm, "Ω"),
            "impedance_min_hz": Number(result.minimum_hz, "Hz"),
        },
        curves={
            "impedance": Curve(result.frequency_hz, result.magnitude_ohm, "Ω"),
            "impedance_phase": Curve(result.frequency_hz, result.phase_deg, "deg"),
        },
    )
