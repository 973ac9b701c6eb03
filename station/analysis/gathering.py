"""Readings put together from parts, none of which may fail silently or stop another."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from station.analysis.plan import Plan
from station.analysis.readings import Number, Readings
from station.errors import NoSignalError

NOT_FINITE = (
    "A reading came out as no number.",
    "Test the unit again; if it happens again, keep the recording and call the technician.",
)
RUB_NAMES = ("rub", "rub_crest")
IMPEDANCE_NAMES = ("impedance", "impedance_phase", "impedance_min", "impedance_min_hz")
RESONANCE_NAMES = ("fs",)


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


def one_number(name: str, value: float, unit: str) -> Readings:
    """Return a single number as readings."""
    return Readings(numbers={name: Number(value, unit)})


def missing(names: Iterable[str], happened: str, remedy: str) -> Readings:
    """Return readings that could not be computed, all for one reason."""
    return Readings(missing=dict.fromkeys(names, (happened, remedy)))


def acoustic_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that need the microphone."""
    return (
        "delay",
        "response",
        *(("sensitivity",) if plan.sensitivity is not None else ()),
        *distortion_names(plan),
        *(RUB_NAMES if plan.rub is not None else ()),
        *section_names(plan),
    )


def electric_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that need the current."""
    return (
        *(IMPEDANCE_NAMES if plan.impedance is not None else ()),
        *(RESONANCE_NAMES if plan.resonance is not None else ()),
    )


def all_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of all readings that a plan asks for."""
    return ("voltage", "ambient", *acoustic_names(plan), *electric_names(plan))


def distortion_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the distortion curves."""
    if plan.distortion is None:
        return ()
    return ("thd", *(f"h{order}" for order in plan.distortion.orders))


def section_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of the readings of all sections; levels need a reference."""
    kinds = ("polarity", "level") if plan.reference is not None else ("polarity",)
    return tuple(f"{kind}.{section.name}" for section in plan.sections for kind in kinds)
