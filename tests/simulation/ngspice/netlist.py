"""Writes the simulated units as circuits for ngspice, from the values of their parts alone.

Nothing of the simulation's own algebra is used here. Mechanics are a circuit with velocity as
voltage and force as current: mass is a capacitor, a spring an inductor, friction a conductance.
Filters and diaphragms are passive sections behind buffers.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

from station.simulation.physics.drivers import Driver
from station.simulation.physics.networks import Part
from station.simulation.physics.panel import Panel
from station.simulation.physics.radiation import Mode, Radiator
from station.simulation.products import fell60, scree12, tarn2

GROUND = "0"


class Netlist:
    """Lines of a deck, with nodes and names of their own."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._numbers = itertools.count(1)

    def node(self) -> str:
        return f"n{next(self._numbers)}"

    def add(self, letter: str, first: str, second: str, value: str) -> str:
        name = f"{letter}{next(self._numbers)}"
        self.lines.append(f"{name} {first} {second} {value}")
        return name

    def part(self, first: str, second: str, part: Part) -> None:
        """Put resistance, coil and capacitor of a part in series between two nodes."""
        pieces = [("R", part.resistance_ohm), ("L", part.inductance_h)]
        wanted = [(letter, value) for letter, value in pieces if value > 0.0]
        if part.capacitance_f is not None:
            wanted.append(("C", part.capacitance_f))
        at = first
        for number, (letter, value) in enumerate(wanted, start=1):
            to = second if number == len(wanted) else self.node()
            self.add(letter, at, to, repr(value))
            at = to

    def driver(self, at: str, driver: Driver) -> str:
        """Put a driver from a node to ground; return the node whose voltage is its velocity."""
        copper, lossy, sensed, motion, velocity = (self.node() for _ in range(5))
        k, n = driver.coil_ohm_sn, driver.coil_exponent
        w = "2*pi*(hertz+1e-9)"
        self.add("R", at, copper, repr(driver.resistance_ohm))
        self.add("R", copper, lossy, f"r='{k!r}*pow({w},{n!r})*cos({n!r}*pi/2)'")
        self.add("L", lossy, sensed, f"l='{k!r}*pow({w},{n!r}-1)*sin({n!r}*pi/2)'")
        meter = self.add("V", sensed, motion, "0")
        self.lines.append(f"E{velocity} {motion} 0 {velocity} 0 {driver.force_factor_tm!r}")
        self.lines.append(f"F{velocity} 0 {velocity} {meter} {driver.force_factor_tm!r}")
        self.add("C", velocity, GROUND, repr(driver.moving_mass_kg))
        self.add("R", velocity, GROUND, repr(1.0 / driver.friction_kg_s))
        self.add("L", velocity, GROUND, repr(1.0 / driver.stiffness_n_m))
        if driver.box_stiffness_n_m > 0.0:  # a spring and a leak behind each other
            leak = self.node()
            self.add("L", velocity, leak, repr(1.0 / driver.box_stiffness_n_m))
            loss = 1.0 / (driver.box_stiffness_n_m * driver.box_leak_s)
            self.add("R", leak, GROUND, repr(loss))
        return velocity

    def buffered(self, at: str, gain: float = 1.0) -> str:
        """Return a node that follows another without loading it."""
        follower = self.node()
        self.add("E", follower, GROUND, f"{at} 0 {gain!r}")
        return follower

    def summed(self, first: str, second: str, gain: float) -> str:
        """Return a node with one voltage plus a gain times another."""
        middle, total = self.node(), self.node()
        self.add("E", total, middle, f"{first} 0 1")
        self.add("E", middle, GROUND, f"{second} 0 {gain!r}")
        return total

    def second_order(self, at: str, corner_hz: float, q_ratio: float, across: str) -> str:
        """Return the voltage across one part of a series L, R, C of a corner and a Q."""
        w0 = 2 * math.pi * corner_hz
        values = {"L": 1.0 / w0, "R": 1.0 / q_ratio, "C": 1.0 / w0}
        order = [letter for letter in "LRC" if letter != across]
        one, two = self.node(), self.node()
        self.add(order[0], self.buffered(at), one, repr(values[order[0]]))
        self.add(order[1], one, two, repr(values[order[1]]))
        self.add(across, two, GROUND, repr(values[across]))
        return two

    def first_order(self, at: str, corner_hz: float, across: str) -> str:
        """Return the voltage across one part of a series R, C of a corner."""
        out = self.node()
        values = {"R": 1.0, "C": 1.0 / (2 * math.pi * corner_hz)}
        (other,) = set(values) - {across}
        self.add(other, self.buffered(at), out, repr(values[other]))
        self.add(across, out, GROUND, repr(values[across]))
        return out

    def modes(self, at: str, modes: Iterable[Mode]) -> str:
        for mode in modes:
            bump = self.second_order(at, mode.frequency_hz, mode.q_ratio, "R")
            at = self.summed(at, bump, mode.gain_ratio)
        return at

    def radiator(self, velocity: str, radiator: Radiator) -> str:
        """Return the pressure at 1 m: a point source, its baffle, its roll-off, its modes."""
        driven, sensed, thrust = self.node(), self.node(), self.node()
        self.add("E", driven, GROUND, f"{velocity} 0 1")
        meter = self.add("V", driven, sensed, "0")
        self.add("C", sensed, GROUND, "1")  # its current is the derivative: the acceleration
        pressure = radiator.air.kg_m3 * radiator.area_m2 / (4 * math.pi)
        self.add("H", thrust, GROUND, f"{meter} {pressure!r}")
        step = self.first_order(thrust, radiator.baffle_step_hz, "R")
        sound = self.summed(thrust, step, 1.0)
        sound = self.second_order(sound, radiator.rolloff_hz, radiator.rolloff_q_ratio, "C")
        return self.modes(sound, radiator.modes)

    def panel(self, stators: str, panel: Panel) -> str:
        """Return the pressure of a charged film at 1 m."""
        force = self.buffered(stators, panel.pressure_pa_v * panel.bias_ratio)
        sound = self.first_order(force, panel.dipole_hz, "R")
        sound = self.first_order(sound, panel.rolloff_hz, "C")
        return self.modes(sound, panel.modes)

    def transformer(self, primary: str, turns_ratio: float) -> str:
        """Return the secondary of an ideal transformer."""
        ideal, secondary = self.node(), self.node()
        self.add("E", ideal, GROUND, f"{primary} 0 {turns_ratio!r}")
        meter = self.add("V", ideal, secondary, "0")
        self.add("F", primary, GROUND, f"{meter} {turns_ratio!r}")
        return secondary


def tarn2_lines(parts: tarn2.Parts, net: Netlist) -> str:
    """Write a Tarn 2 between `in` and ground; return the node of its sound."""
    low, high, tweeter = net.node(), net.node(), net.node()
    net.part("in", low, parts.woofer_coil)
    net.part(low, GROUND, parts.woofer_capacitor)
    woofer_sound = net.radiator(net.driver(low, parts.woofer.driver), parts.woofer.radiator)
    net.part("in", high, parts.tweeter_capacitor)
    net.part(high, GROUND, parts.tweeter_coil)
    net.part(high, tweeter, parts.tweeter_resistor)
    tweeter_sound = net.radiator(net.driver(tweeter, parts.tweeter), parts.tweeter_radiator)
    return net.summed(woofer_sound, tweeter_sound, 1.0)


def fell60_lines(parts: fell60.Parts, net: Netlist) -> str:
    """Write a Fell 60 between `in` and ground; return the node of its sound."""
    low, high, primary, stators = (net.node() for _ in range(4))
    net.part("in", low, parts.woofer_coil)
    net.part(low, GROUND, parts.woofer_capacitor)
    woofer_sound = net.radiator(net.driver(low, parts.woofer.driver), parts.woofer.radiator)
    net.part("in", high, parts.panel_capacitor)
    net.part(high, GROUND, parts.panel_coil)
    net.part(high, GROUND, parts.panel_resistor)
    net.part(high, primary, parts.leakage)
    net.part(net.transformer(primary, fell60.TURNS_RATIO), stators, parts.secondary)
    net.part(stators, GROUND, parts.panel_capacitance)
    return net.summed(woofer_sound, net.panel(stators, parts.panel), 1.0)


def scree12_lines(parts: scree12.Parts, net: Netlist) -> str:
    """Write a Scree 12 between `in` and ground; return the node of its sound."""
    box, driven = parts.electronics, net.node()
    net.add("R", "in", GROUND, repr(box.input_ohm))
    net.add("C", "in", GROUND, repr(box.input_f))
    signal = net.second_order("in", box.subsonic_hz, box.subsonic_q_ratio, "L")
    for q_ratio in box.lowpass_q_ratios:
        signal = net.second_order(signal, box.lowpass_hz, q_ratio, "C")
    net.part(net.buffered(signal, box.gain_ratio), driven, scree12.AMPLIFIER_OUTPUT)
    return net.radiator(net.driver(driven, parts.woofer.driver), parts.woofer.radiator)
