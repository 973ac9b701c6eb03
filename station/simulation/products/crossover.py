"""Faults of a passive crossover, the same for every model that has one.

Its parts are fields of the model's own table of parts: a coil and a capacitor of the woofer, and
a coil, a capacitor and a resistor of the upper section, after whose driver they are named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from station.simulation.physics.networks import Part, opened, scaled, shorted

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    Parts = TypeVar("Parts", bound=DataclassInstance)
else:
    Parts = TypeVar("Parts")


def crossover_changes(
    upper: str, _parts: type[Parts]
) -> Mapping[str, Callable[[Parts, float], Parts]]:
    """Return the faults of a crossover by name; `upper` is the upper section's driver."""
    capacitor, coil = f"{upper}_capacitor", f"{upper}_coil"
    numbered = ("woofer_capacitor", coil, capacitor, "woofer_coil")

    def value(name: str) -> Callable[[Parts, float], Parts]:
        return lambda parts, off: with_part(parts, name, lambda part: scaled(part, 1.0 + off))

    def joint(change: Callable[[Part], Part]) -> Callable[[Parts, float], Parts]:
        return lambda parts, number: with_part(parts, numbered[round(number) - 1], change)

    return {
        "wrong_capacitor": value(capacitor),
        "drifted_coil": value(coil),
        "drifted_resistor": value(f"{upper}_resistor"),
        "drifted_woofer_capacitor": value("woofer_capacitor"),
        "drifted_woofer_coil": value("woofer_coil"),
        "open_crossover_part": joint(opened),
        "shorted_crossover_part": joint(shorted),
        "swapped_parts": lambda parts, _: with_exchanged(parts, "woofer_capacitor", capacitor),
    }


def with_part(parts: Parts, name: str, change: Callable[[Part], Part]) -> Parts:
    """Return the parts with one of them changed."""
    fields: dict[str, Any] = {name: change(getattr(parts, name))}
    return replace(parts, **fields)


def with_exchanged(parts: Parts, first: str, second: str) -> Parts:
    """Return the parts with two capacitors in each other's place."""
    first_f, second_f = (getattr(parts, name).capacitance_f for name in (first, second))
    once = with_part(parts, first, lambda part: replace(part, capacitance_f=second_f))
    return with_part(once, second, lambda part: replace(part, capacitance_f=first_f))
