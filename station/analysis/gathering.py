"""Readings put together from parts, none of which may fail silently or stop another."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from station.analysis.plan import Plan
from station.analysis.readings import Number, Readings
from station.analysis.statistics.uncertainty import Estimate
from station.errors import NoSignalError

NOT_FINITE = (
    "A reading came out as no number.",
    "Test the unit again; if it happens again, keep the recording and call the technician.",
)
RUB_NAMES = ("rub", "rub_crest")
IMPEDANCE_CURVE_NAMES = ("impedance", "impedance_phase")
IMPEDANCE_NUMBER_NAMES = ("impedance_min", "impedance_min_hz")
IMPEDANCE_NAMES = (*IMPEDANCE_CURVE_NAMES, *IMPEDANCE_NUMBER_NAMES)
RESONANCE_NAMES = ("fs",)
DRIVER_NAMES = ("re", "qms", "qes", "qts")
CLOSED_BOX_NAMES = ("compliance_ratio", "qtc_excess")
PANEL_NAMES = ("panel_capacitance", "leakage_inductance", "panel_minimum_hz", "inductive_above")
IDLE_NAMES = ("idle_noise", "hum", "hum_prominence")
IDLE_NOISE_NAMES = ("noise.idle_noise", "noise.hum")
FILTER_NAMES = ("filter_corner", "filter_slope")
DIPOLE_NAMES = ("dipole", "dipole_opposite", "dipole_delay")
COMPRESSION_NAMES = ("compression", "compression_onset")
PATTERN_NAMES = ("pattern.distance", "pattern.modes", "pattern.rest")
NOISE_PREFIX = "noise."  # what noise alone would have read as the reading of this name


def attempted(names: tuple[str, ...], compute: Callable[[], Readings]) -> Readings:
    """Return readings, or their names as missing if there is nothing to compute them from."""
    try:
        return finite(compute())
    except NoSignalError as error:
        return missing(names, error.happened, error.remedy)


def finite(readings: Readings) -> Readings:
    """Return the readings with those that are no numbers moved to `missing`.

    A curve may hold NaN where it has no value; not everywhere, and nothing infinite.
    """
    bad = [name for name, number in readings.numbers.items() if not math.isfinite(number.value)]
    bad += [
        name
        for name, curve in readings.curves.items()
        if np.isinf(curve.values).any() or np.isnan(curve.values).all()
    ]
    return Readings(
        {name: number for name, number in readings.numbers.items() if name not in bad},
        {name: curve for name, curve in readings.curves.items() if name not in bad},
        dict.fromkeys(bad, NOT_FINITE) | dict(readings.missing),
    )


def number_of(estimate: Estimate, unit: str) -> Number:
    """Return an estimate as a number; an uncertainty without bound is not stated."""
    uncertainty = estimate.standard_uncertainty
    return Number(estimate.value, unit, uncertainty if math.isfinite(uncertainty) else math.nan)


def merged(parts: Iterable[Readings]) -> Readings:
    """Return all parts as one."""
    whole = Readings()
    for part in parts:
        whole = Readings(
            {**whole.numbers, **part.numbers},
            {**whole.curves, **part.curves},
            {**whole.missing, **part.missing},
        )
    return whole


def one_number(name: str, value: float, unit: str, uncertainty: float = math.nan) -> Readings:
    """Return a single number as readings; an uncertainty without bound is not stated."""
    stated = uncertainty if math.isfinite(uncertainty) else math.nan
    return Readings(numbers={name: Number(value, unit, stated)})


def missing(names: Iterable[str], happened: str, remedy: str) -> Readings:
    """Return readings that could not be computed, all for one reason."""
    return Readings(missing=dict.fromkeys(names, (happened, remedy)))


def acoustic_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that need the microphone while the sweep plays."""
    return (
        "delay",
        "response",
        *(("sensitivity",) if plan.sensitivity is not None else ()),
        *distortion_names(plan),
        *(RUB_NAMES if plan.rub is not None else ()),
        *section_names(plan),
        *(FILTER_NAMES if plan.filter is not None else ()),
        *(DIPOLE_NAMES if plan.dipole is not None else ()),
        *noise_names(plan),
    )


def noise_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the curves that noise alone would have read."""
    rub = ("rub",) if plan.rub is not None else ()
    return tuple(f"{NOISE_PREFIX}{name}" for name in ("response", *distortion_names(plan), *rub))


def electric_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that need the current."""
    return (
        *impedance_names(plan),
        *(RESONANCE_NAMES if plan.resonance is not None else ()),
        *(DRIVER_NAMES if plan.driver is not None else ()),
        *(CLOSED_BOX_NAMES if plan.closed_box is not None else ()),
        *(PANEL_NAMES if plan.panel is not None else ()),
    )


def impedance_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the readings of the impedance itself."""
    if plan.impedance is None:
        return ()
    rated = ("impedance_margin",) if plan.impedance.rated_ohm is not None else ()
    return (*IMPEDANCE_NAMES, *rated)


def idle_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings of the silence before the sweep, the ambient level first."""
    idle = (*IDLE_NAMES, *IDLE_NOISE_NAMES) if plan.idle_noise is not None else ()
    return ("ambient", *idle)


def all_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that a plan asks for."""
    return (
        "voltage",
        *idle_names(plan),
        *acoustic_names(plan),
        *electric_names(plan),
        *(COMPRESSION_NAMES if plan.compression is not None else ()),
        *(PATTERN_NAMES if plan.pattern is not None else ()),
    )


def distortion_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the distortion curves."""
    if plan.distortion is None:
        return ()
    return ("thd", *(f"h{order}" for order in plan.distortion.orders))


def section_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the readings of all sections; levels need a reference."""
    kinds = ("polarity", "level") if plan.reference is not None else ("polarity",)
    return tuple(f"{kind}.{section.name}" for section in plan.sections for kind in kinds)
