"""A netlist made ready to be solved: values in columns, and the variables that move them.

A value is its nominal times exp of a weighted sum of variables, so that a variable is the natural
logarithm of a ratio; the exponent of a lossy coil and the share of shorted turns are added to
instead. Several values can hang on one variable: the temperature moves all copper.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray, read_only
from station.diagnosis.circuit.branches import Branch
from station.diagnosis.circuit.elimination import EliminationPlan


class Mode(StrEnum):
    """In which way a part can be off."""

    VALUE = "value"  # the value printed on it
    JOINT = "joint"  # what stands in series with it: a joint, a lead, its own wire
    TURNS = "turns"  # a coil's shorted turns
    BRIDGE = "bridge"  # solder or a wire across it
    RE = "re"
    FORCE = "force"
    MASS = "mass"
    STIFFNESS = "stiffness"
    FRICTION = "friction"
    COIL = "coil"
    EXPONENT = "exponent"
    SHORTED = "shorted"
    AIR = "air"  # the spring of a box's air
    WAY_OUT = "way_out"  # a leak, or what a vent is stuffed with
    VENT = "vent"  # the mass in a vent
    WINDING = "winding"
    LEADS = "leads"
    SENSE = "sense"
    COPPER = "copper"
    GAIN = "gain"  # how loud a driver or panel is for what drives it


CABLE, STATION, CLIMATE = "cable", "station", "temperature"
NUISANCES = (Mode.EXPONENT, Mode.AIR, Mode.COPPER)


@dataclass(frozen=True, slots=True)
class Variable:
    """One way in which one part varies; `sigma` is its standard deviation in production.

    Zero: it varies only when it is at fault, as no good coil has shorted turns.
    """

    part: str
    mode: Mode
    sigma: float

    @property
    def candidate(self) -> bool:
        """Whether it can be what is wrong with a unit."""
        return self.mode not in NUISANCES


@dataclass(frozen=True, slots=True)
class Output:
    """Which branch sounds in a section, and over which frequencies its level is read."""

    section: str
    part: str
    branch: int
    frequency_hz: tuple[float, ...]
    gain_column: int  # in dB


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """A model revision's network.

    Parameters
    ----------
    nominal : ndarray, shape (n_values,)
        Values as designed.
    added : ndarray of bool, shape (n_values,)
        Which values a variable is added to; the others are multiplied by its exponential.
    weights : ndarray, shape (n_values, n_variables)
        How much of each variable goes into each value.
    """

    branches: tuple[Branch, ...]
    plan: EliminationPlan
    nominal: FloatArray
    added: NDArray[np.bool_]
    weights: FloatArray
    variables: tuple[Variable, ...]
    cable_column: int
    gain_column: int
    outputs: tuple[Output, ...]
    what: Mapping[str, str]  # by part, in words

    def __post_init__(self) -> None:
        for name in ("nominal", "added", "weights"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def sigma(self) -> FloatArray:
        """Standard deviation of every variable in production."""
        return np.array([variable.sigma for variable in self.variables])

    def values(self, variables: FloatArray) -> FloatArray:
        """Return the values, shape (batch, n_values), for variables (batch, n_variables)."""
        moved = variables @ self.weights.T
        return np.where(self.added, self.nominal + moved, self.nominal * np.exp(moved))

    def chain(self, values: FloatArray) -> FloatArray:
        """Return how every variable moves every value, (batch, n_values, n_variables)."""
        moved = np.where(self.added, 1.0, values)
        return np.asarray(moved[:, :, np.newaxis] * self.weights)

    def place(self, part: str, mode: Mode) -> int:
        """Return where a variable stands; raise KeyError if there is none."""
        for index, variable in enumerate(self.variables):
            if variable.part == part and variable.mode is mode:
                return index
        raise KeyError(f"{part} has no {mode}")
