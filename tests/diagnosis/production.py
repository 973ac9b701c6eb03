"""Units as production makes them: every part inside its tolerance, and at most one at fault."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from pydantic import BaseModel

from station.judging.tables.netlisttables import DriverTable, NetlistTable, PartTable
from tests.diagnosis.decks import Unit

SIGMAS = 3.0
SPREAD = {  # field to the field of its tolerance
    "ohm": "tolerance", "farad": "tolerance", "henry": "tolerance",
    "series_ohm": "series_tolerance", "winding_ohm": "winding_tolerance",
    "re_ohm": "re_tolerance", "force_factor_tm": "force_factor_tolerance",
    "moving_mass_kg": "moving_mass_tolerance", "friction_kg_s": "friction_tolerance",
    "coil_ohm_sn": "coil_tolerance", "leakage_h": "leakage_tolerance",
    "out_kg_s": "out_tolerance", "stiffness_n_m": "stiffness_tolerance",
    "out_kg": "out_tolerance",
}  # fmt: skip
COPPER = ("winding_ohm", "re_ohm", "primary_ohm", "secondary_ohm")


@dataclass(frozen=True)
class Fault:
    """What was planted: the part, how, and its value as a ratio to nominal where it has one."""

    part: str
    how: str
    ratio: float = math.nan


def drawn(netlist: NetlistTable, rng: np.random.Generator) -> Unit:
    """Return a good unit."""

    def factor(tolerance: float) -> float:
        return math.exp(float(np.clip(rng.normal(), -SIGMAS, SIGMAS)) * tolerance / SIGMAS)

    copper = factor(netlist.cable.copper_tolerance)
    windings = factor(netlist.transformers[0].winding_tolerance) if netlist.transformers else 1.0

    def spread(table: BaseModel) -> dict[str, object]:
        found: dict[str, object] = {}
        for name, value in table:
            if name in SPREAD and isinstance(value, float):
                found[name] = value * factor(getattr(table, SPREAD[name]))
            if name in ("primary_ohm", "secondary_ohm"):
                found[name] = value * windings
            if name in COPPER:
                found[name] = found[name] * copper  # type: ignore[operator]  # a float by now
            if name == "coil_exponent":
                found[name] = value + rng.normal() * getattr(table, f"{name}_spread")
            if isinstance(value, BaseModel):
                found[name] = value.model_copy(update=spread(value))
        return found

    def all_of(tables: tuple[PartTable, ...]) -> tuple[PartTable, ...]:
        return tuple(table.model_copy(update=spread(table)) for table in tables)

    cable = netlist.cable
    kinds = ("resistors", "capacitors", "coils", "drivers", "transformers", "panels")
    changed = netlist.model_copy(
        update={
            "cable": cable.model_copy(update={"ohm": cable.ohm * factor(cable.ohm_tolerance)}),
            **{kind: all_of(getattr(netlist, kind)) for kind in kinds},
        }
    )
    return Unit(changed, gain=factor(cable.gain_tolerance))


def with_field(
    netlist: NetlistTable, part: str, change: Callable[[PartTable], PartTable]
) -> NetlistTable:
    """Return a netlist with one part changed."""
    update = {}
    for kind in ("resistors", "capacitors", "coils", "drivers", "transformers", "panels"):
        update[kind] = tuple(
            change(table) if table.name == part else table for table in getattr(netlist, kind)
        )
    return netlist.model_copy(update=update)


def off(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a factor off by a share between two, up or down."""
    size = math.log1p(rng.uniform(low, high))
    return math.exp(size if rng.random() < 0.5 else -size)


DRIVER_FAULTS = {  # field to the smallest and largest share it is off by
    "force_factor_tm": (0.2, 0.45),
    "moving_mass_kg": (0.2, 0.45),
    "stiffness_n_m": (0.4, 1.2),
}


def planted(
    unit: Unit, nominal: NetlistTable, part: str, rng: np.random.Generator
) -> tuple[Unit, Fault]:
    """Return a unit with one part at fault."""
    table = next(one for one in nominal.parts if one.name == part)
    how, (low, high) = choice(table, rng)
    if how in ("open", "bridged"):
        broken = {"opened" if how == "open" else "bridged": frozenset({part})}
        return Unit(unit.netlist, gain=unit.gain, **broken), Fault(part, how)
    ratio = off(rng, low, high)
    value = getattr(table, how) * ratio
    changed = with_field(unit.netlist, part, lambda one: one.model_copy(update={how: value}))
    return Unit(changed, gain=unit.gain), Fault(part, how, ratio)


# Drivers mostly fail by an open coil or lead (common practice, no source). A wrong standard value
# is off by a fifth or more (E12 of IEC 60063).
def choice(table: PartTable, rng: np.random.Generator) -> tuple[str, tuple[float, float]]:
    """Return which fault a part has, and how far its value may then be off."""
    none = (0.0, 0.0)
    if isinstance(table, DriverTable):
        kinds = [*DRIVER_FAULTS.items(), *[("open", none)] * len(DRIVER_FAULTS)]
    else:
        name = next(name for name in ("ohm", "farad", "henry", "leakage_h") if hasattr(table, name))
        kinds = [(name, (0.2, 0.6))] * 3 + [("open", none)]
        if hasattr(table, "series_ohm") or hasattr(table, "winding_ohm"):
            kinds.append(("bridged", none))
    return kinds[int(rng.integers(len(kinds)))]


def faulty_units(
    netlist: NetlistTable, count: int, rng: np.random.Generator
) -> Iterator[tuple[Unit, Fault]]:
    """Yield units with one fault each, every part in turn."""
    names = [part.name for part in netlist.parts]
    for number in range(count):
        yield planted(drawn(netlist, rng), netlist, names[number % len(names)], rng)
