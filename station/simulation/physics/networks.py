"""Linear electrical networks as chains of two-ports, from the amplifier towards a load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import reduce
from typing import Literal, Protocol

import numpy as np

from station.simulation.arrays import ComplexArray

OPEN_OHM = 1e9
SHORT_OHM = 0.02  # of a wire or a solder bridge


@dataclass(frozen=True, slots=True, eq=False)
class TwoPort:
    """Chain parameters: u1 = a·u2 + b·i2, i1 = c·u2 + d·i2; reciprocal, so a·d - b·c = 1."""

    a: ComplexArray
    b: ComplexArray
    c: ComplexArray
    d: ComplexArray

    def then(self, far: TwoPort) -> TwoPort:
        """Return this two-port followed by another."""
        return TwoPort(
            self.a * far.a + self.b * far.c,
            self.a * far.b + self.b * far.d,
            self.c * far.a + self.d * far.c,
            self.c * far.b + self.d * far.d,
        )


class Element(Protocol):
    """One link of a chain."""

    def at(self, s: ComplexArray) -> TwoPort:
        """Return its chain parameters at complex angular frequencies in rad/s."""


@dataclass(frozen=True, slots=True)
class Part:
    """Resistance, inductance and capacitance in series with each other, placed in a chain.

    `capacitance_f` None means no capacitor. As a series part it stands in the current's way, as
    a shunt part across the line.
    """

    place: Literal["series", "shunt"]
    resistance_ohm: float = 0.0
    inductance_h: float = 0.0
    capacitance_f: float | None = None

    def impedance_ohm(self, s: ComplexArray) -> ComplexArray:
        """Return the part's impedance."""
        impedance = self.resistance_ohm + s * self.inductance_h
        if self.capacitance_f is not None:
            impedance = impedance + 1.0 / (s * self.capacitance_f)
        return impedance

    def at(self, s: ComplexArray) -> TwoPort:
        """Return its chain parameters."""
        one, none = np.ones_like(s), np.zeros_like(s)
        if self.place == "series":
            return TwoPort(one, self.impedance_ohm(s), none, one)
        return TwoPort(one, none, 1.0 / self.impedance_ohm(s), one)


def scaled(part: Part, ratio: float) -> Part:
    """Return the part with another value: its coil or capacitor, or the resistance if alone."""
    if part.inductance_h == 0.0 and part.capacitance_f is None:
        return replace(part, resistance_ohm=part.resistance_ohm * ratio)
    capacitance_f = None if part.capacitance_f is None else part.capacitance_f * ratio
    return replace(part, inductance_h=part.inductance_h * ratio, capacitance_f=capacitance_f)


def opened(part: Part) -> Part:
    """Return the part with a broken joint."""
    return replace(part, resistance_ohm=part.resistance_ohm + OPEN_OHM)


def shorted(part: Part) -> Part:
    """Return the part with its coil or capacitor bridged; what stands in series with it stays.

    A coil's own resistance is its wire, which is bridged with it; so is a resistor alone.
    """
    bridged = part.inductance_h > 0.0 or part.capacitance_f is None
    resistance_ohm = SHORT_OHM if bridged else part.resistance_ohm
    return replace(part, resistance_ohm=resistance_ohm, inductance_h=0.0, capacitance_f=None)


@dataclass(frozen=True, slots=True)
class Transformer:
    """An ideal transformer: the far side has `turns_ratio` times the voltage."""

    turns_ratio: float

    def at(self, s: ComplexArray) -> TwoPort:
        """Return its chain parameters."""
        ratio, none = np.full_like(s, self.turns_ratio), np.zeros_like(s)
        return TwoPort(1.0 / ratio, none, none, ratio)


@dataclass(frozen=True, slots=True)
class CrossedLeads:
    """Two leads swapped: voltage and current change sign, impedance does not."""

    def at(self, s: ComplexArray) -> TwoPort:
        """Return its chain parameters."""
        minus, none = np.full_like(s, -1.0), np.zeros_like(s)
        return TwoPort(minus, none, none, minus)


def chain_at(elements: tuple[Element, ...], s: ComplexArray) -> TwoPort:
    """Return the chain parameters of elements in a row, the first at the amplifier's side."""
    straight = TwoPort(np.ones_like(s), np.zeros_like(s), np.zeros_like(s), np.ones_like(s))
    return reduce(TwoPort.then, (element.at(s) for element in elements), straight)
