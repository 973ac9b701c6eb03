"""Textbook electrical equivalents of the simulated units' parts, written a second time.

Small, "Direct-Radiator Loudspeaker System Analysis", J. Audio Eng. Soc. 20(5), 1972: a driver's
mechanics seen from its coil are Res = Bl²/Rms, Cmes = Mms/Bl², Lces = Bl²/Kms side by side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.simulation.physics.drivers import Driver
from station.simulation.physics.networks import Part
from tests.simulation.nodal import Nodal

ComplexArray = NDArray[np.complex128]


def of_part(part: Part, s: ComplexArray) -> ComplexArray:
    impedance = part.resistance_ohm + s * part.inductance_h
    return impedance if part.capacitance_f is None else impedance + 1 / (s * part.capacitance_f)


def add_driver(nodal: Nodal, node: int, inner: int, driver: Driver) -> None:
    """Put a driver from `node` to ground; `inner` carries its induced voltage Bl·v."""
    s, bl2 = nodal.s, driver.force_factor_tm**2
    nodal.add(node, inner, driver.resistance_ohm + driver.coil_ohm_sn * s**driver.coil_exponent)
    nodal.add(inner, 0, bl2 / driver.friction_kg_s)
    nodal.add(inner, 0, bl2 / (s * driver.moving_mass_kg))
    nodal.add(inner, 0, s * bl2 / driver.stiffness_n_m)
    if driver.box_stiffness_n_m > 0.0:
        # air and leak act one after the other: their velocities add, so their admittances
        # (mechanical impedances over Bl²) stand in series
        air = s * bl2 / driver.box_stiffness_n_m
        leak = bl2 / (driver.box_stiffness_n_m * driver.box_leak_s)
        nodal.add(inner, 0, air + leak)
