"""From a serial number to the simulated unit that carries it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from station.errors import RefusedInputError
from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import FELL, SCREE, TARN, checked_faults, unit_faults
from station.simulation.physics.speaker import SimulatedUnit
from station.simulation.products.fell60 import fell60
from station.simulation.products.scree12 import scree12
from station.simulation.products.spread import Spread
from station.simulation.products.tarn2 import tarn2

Builder = Callable[[Spread, Mapping[str, float], Conditions], SimulatedUnit]


@dataclass(frozen=True, slots=True)
class SimulatedModel:
    """A model that can be simulated: letters before five digits, and how a unit is built."""

    name: str
    prefix: str
    build: Builder


MODELS = (
    SimulatedModel(TARN, "T2A", tarn2),
    SimulatedModel(FELL, "F6A", fell60),
    SimulatedModel(SCREE, "S12A", scree12),
)


def model_of(serial: str) -> SimulatedModel:
    """Return the model a serial number belongs to; raise RefusedInputError."""
    for model in MODELS:
        if re.fullmatch(rf"{model.prefix}[0-9]{{5}}", serial):
            return model
    patterns = ", ".join(f"{model.prefix}00001 ({model.name})" for model in MODELS)
    raise RefusedInputError(
        f"There is no simulated unit with the serial number {serial!r}.",
        f"Use a number like one of these: {patterns}.",
    )


def serial_of_another_model(serial: str, number: int) -> str:
    """Return the same digits on the label of the first or second other model."""
    own = model_of(serial)
    others = [model for model in MODELS if model is not own]
    return f"{others[number - 1].prefix}{serial.removeprefix(own.prefix)}"


def simulated_unit(
    serial: str,
    seed: int,
    faults: Mapping[str, float],
    conditions: Conditions = USUAL,
    *,
    batch_ratio: float = 0.0,
) -> SimulatedUnit:
    """Return a unit with its faults; faults of the station are checked and left out."""
    model = model_of(serial)
    checked = checked_faults(model.name, faults)
    spread = Spread(serial, seed, batch_ratio)
    return model.build(spread, unit_faults(checked), conditions)


def unit_truth(
    serial: str,
    seed: int,
    faults: Mapping[str, float],
    conditions: Conditions = USUAL,
    *,
    batch_ratio: float = 0.0,
) -> SimulatedUnit:
    """Return the unit for its closed-form `impedance` and `response`, to test against."""
    return simulated_unit(serial, seed, faults, conditions, batch_ratio=batch_ratio)
