"""From a recording and a plan to all readings, and to what makes the recording worthless."""

from __future__ import annotations

from dataclasses import dataclass

from station.analysis.acousticreadings import acoustic_readings
from station.analysis.electricreadings import electric_readings
from station.analysis.gathering import PATTERN_NAMES, all_names, attempted, merged, missing
from station.analysis.idlereadings import idle_readings
from station.analysis.plan import PatternPlan, Plan, check_plan
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.statistics.pattern import pattern_distance
from station.analysis.stepreadings import step_readings
from station.analysis.trust.drive import drive_state
from station.analysis.trust.drivefaults import current_fault, drive_faults, reversed_current
from station.analysis.trust.integrity import FATAL_KINDS, IntegrityFault, sample_faults


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
    check_plan(plan)
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
        *idle_readings(recording, plan),
        *acoustic_readings(recording, spectra, plan),
        *electric_readings(recording, spectra, plan),
        *step_readings(recording, plan),
    )
    readings = merged(parts)
    if plan.pattern is not None:
        readings = merged((readings, pattern_readings(readings, plan.pattern)))
    if "impedance" in readings.missing:
        faults = (*current_fault(spectra), *faults)
    elif "impedance" in readings.curves:
        faults = (*reversed_current(spectra), *faults)
    return Measured(readings, faults)


def first_fatal(faults: tuple[IntegrityFault, ...]) -> IntegrityFault | None:
    """Return the first fault that leaves nothing to compute."""
    return next((fault for fault in faults if fault.kind in FATAL_KINDS), None)


def pattern_readings(readings: Readings, plan: PatternPlan) -> Readings:
    """Return how unlike the production a curve is, or why it was not there to be compared."""
    if plan.curve in readings.missing:
        return missing(PATTERN_NAMES, *readings.missing[plan.curve])
    curve = readings.curves[plan.curve]
    return attempted(PATTERN_NAMES, lambda: distances(curve, plan))


def distances(curve: Curve, plan: PatternPlan) -> Readings:
    """Return a curve's distance from the production, along its modes and beside them."""
    found = pattern_distance(plan.model, curve.frequency_hz, curve.values)
    return Readings(
        numbers={
            "pattern.distance": Number(found.distance_sigma, "sigma"),
            "pattern.modes": Number(found.mode_sigma, "sigma"),
            "pattern.rest": Number(found.rest_sigma, "sigma"),
        }
    )
