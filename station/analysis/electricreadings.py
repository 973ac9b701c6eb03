"""All readings of the voltage and the current at the terminals."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.driverfit import DriverFit, fitted_driver
from station.analysis.electric.driverphysics import closed_box, rated_impedance_margin_ohm
from station.analysis.electric.impedance import ImpedanceResult, impedance, values_at
from station.analysis.electric.panelfit import fitted_panel
from station.analysis.electric.resonance import resonance
from station.analysis.gathering import (
    CLOSED_BOX_NAMES,
    DRIVER_NAMES,
    PANEL_NAMES,
    RESONANCE_NAMES,
    attempted,
    electric_names,
    impedance_names,
    missing,
    number_of,
    one_number,
)
from station.analysis.plan import (
    ClosedBoxPlan,
    DriverPlan,
    ImpedancePlan,
    PanelPlan,
    Plan,
    ResonancePlan,
)
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Recording
from station.analysis.signals.spectra import Spectra
from station.analysis.trust.electricnoise import (
    ElectricNoise,
    electric_noise,
    minimum_uncertainty_ohm,
    resonance_uncertainty_hz,
)
from station.errors import NoSignalError

FIT_POINTS = 150  # even over log frequency, of which the fits want a hundred or more


def electric_readings(recording: Recording, spectra: Spectra, plan: Plan) -> Iterator[Readings]:
    """Yield all readings of the current."""
    if (electric := plan.impedance) is None:
        return
    try:
        result = impedance(spectra, electric)
    except NoSignalError as error:
        yield missing(electric_names(plan), error.happened, error.remedy)
        return
    try:
        noise: ElectricNoise | None = electric_noise(recording, spectra, electric.gate_s)
    except NoSignalError:
        noise = None  # the readings are the same; how uncertain they are cannot be told
    yield attempted(impedance_names(plan), lambda: impedance_readings(result, electric, noise))
    if (peak := plan.resonance) is not None:
        yield attempted(RESONANCE_NAMES, lambda: resonance_reading(result, peak, noise))
        if (driver := plan.driver) is not None:
            yield from driver_readings(result, peak, driver, plan.closed_box)
    if (panel := plan.panel) is not None:
        yield attempted(PANEL_NAMES, lambda: panel_readings(result, panel))


def impedance_readings(
    result: ImpedanceResult, plan: ImpedancePlan, noise: ElectricNoise | None
) -> Readings:
    """Return the impedance's curves, its minimum, and how far that keeps the rating."""
    spread_ohm = math.nan if noise is None else minimum_uncertainty_ohm(noise, result)
    readings = one_number("impedance_min", result.minimum_ohm, "Ω", spread_ohm)
    numbers = {**readings.numbers, "impedance_min_hz": Number(result.minimum_hz, "Hz")}
    if plan.rated_ohm is not None:
        margin_ohm = rated_impedance_margin_ohm(result.minimum_ohm, plan.rated_ohm)
        numbers |= one_number("impedance_margin", margin_ohm, "Ω", spread_ohm).numbers
    return Readings(
        numbers,
        curves={
            "impedance": Curve(result.frequency_hz, result.magnitude_ohm, "Ω"),
            "impedance_phase": Curve(result.frequency_hz, result.phase_deg, "deg"),
        },
    )


def resonance_reading(
    result: ImpedanceResult, peak: ResonancePlan, noise: ElectricNoise | None
) -> Readings:
    """Return the resonance frequency."""
    found = resonance(result, peak)
    spread_hz = math.nan if noise is None else resonance_uncertainty_hz(noise, result, found)
    return one_number("fs", found.fs_hz, "Hz", spread_hz)


def fit_points(
    result: ImpedanceResult, from_hz: float, to_hz: float
) -> tuple[FloatArray, ComplexArray]:
    """Return the impedance at points even over log frequency."""
    at_hz = np.geomspace(from_hz, to_hz, FIT_POINTS)
    return at_hz, values_at(result.z_frequency_hz, result.z_ohm, at_hz)


def driver_readings(
    result: ImpedanceResult, peak: ResonancePlan, plan: DriverPlan, box: ClosedBoxPlan | None
) -> Iterator[Readings]:
    """Yield the parameters of a driver at the terminals, and how it stands in its box."""
    try:
        found = fitted_driver(*fit_points(result, plan.from_hz, plan.to_hz), peak)
    except NoSignalError as error:
        names = DRIVER_NAMES if box is None else (*DRIVER_NAMES, *CLOSED_BOX_NAMES)
        yield missing(names, error.happened, error.remedy)
        return
    yield attempted(DRIVER_NAMES, lambda: quality_factors(found))
    if box is not None:
        yield attempted(CLOSED_BOX_NAMES, lambda: box_readings(found, box))


def quality_factors(found: DriverFit) -> Readings:
    """Return the resistance and the quality factors of a fitted driver."""
    return Readings(
        numbers={
            "re": number_of(found.re_ohm, "Ω"),
            "qms": number_of(found.qms, "ratio"),
            "qes": number_of(found.qes, "ratio"),
            "qts": number_of(found.qts, "ratio"),
        }
    )


def box_readings(found: DriverFit, plan: ClosedBoxPlan) -> Readings:
    """Return how a driver in its box compares with what it was in free air."""
    box = closed_box(plan.free_fs_hz, plan.free_qts, found.fs_hz, found.qts)
    return Readings(
        numbers={
            "compliance_ratio": number_of(box.compliance_ratio, "ratio"),
            "qtc_excess": number_of(box.qtc_excess_ratio, "ratio"),
        }
    )


def panel_readings(result: ImpedanceResult, plan: PanelPlan) -> Readings:
    """Return the parameters of a panel behind its transformer."""
    found = fitted_panel(*fit_points(result, plan.from_hz, plan.to_hz), plan.turns_ratio)
    return Readings(
        numbers={
            "panel_capacitance": number_of(found.panel_f, "F"),
            "leakage_inductance": number_of(found.leakage_h, "H"),
            "panel_minimum_hz": number_of(found.minimum_hz, "Hz"),
            "inductive_above": number_of(found.inductive_above_hz, "Hz"),
        }
    )
