"""A whole passive speaker as a circuit: branches side by side that end in drivers or panels.

One branch is a chain (a, b, c, d) ended by a load z with an inner voltage E. From
u1 = a·u2 + b·i2 and u2 = z·i2 + E follow, the chain being reciprocal,

    i2 = (u1 - a·E)/(a·z + b)        i1 = u1·(c·z + d)/(a·z + b) - E/(a·z + b)
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from station.simulation.arrays import ComplexArray
from station.simulation.physics.drivers import Driver, DriverAt
from station.simulation.physics.networks import Element, Part, chain_at


@dataclass(frozen=True, slots=True)
class Branch:
    """One way from the terminals to a driver, or to a capacitance such as a panel."""

    name: str
    chain: tuple[Element, ...]
    load: Driver | Part


@dataclass(frozen=True, slots=True, eq=False)
class BranchAt:
    """A branch at some frequencies."""

    name: str
    load: Driver | Part
    driver: DriverAt | None  # None for a load without a cone
    load_ohm: ComplexArray
    voltage_ratio: ComplexArray  # a of the chain
    transfer_ohm: ComplexArray  # a·z + b, terminal voltage over load current
    admittance_s: ComplexArray  # seen from the terminals

    def first(self, bins: int) -> BranchAt:
        """Return the branch at its first frequencies only."""
        return replace(
            self,
            driver=None if self.driver is None else self.driver.first(bins),
            load_ohm=self.load_ohm[:bins],
            voltage_ratio=self.voltage_ratio[:bins],
            transfer_ohm=self.transfer_ohm[:bins],
            admittance_s=self.admittance_s[:bins],
        )


@dataclass(frozen=True, slots=True, eq=False)
class CircuitAt:
    """A circuit at some frequencies."""

    s: ComplexArray
    branches: tuple[BranchAt, ...]

    @property
    def admittance_s(self) -> ComplexArray:
        """Admittance at the terminals."""
        return np.asarray(sum(branch.admittance_s for branch in self.branches))

    def first(self, bins: int) -> CircuitAt:
        """Return the circuit at its first frequencies only."""
        return CircuitAt(self.s[:bins], tuple(branch.first(bins) for branch in self.branches))


@dataclass(frozen=True, slots=True)
class Circuit:
    """All branches, side by side at the terminals."""

    branches: tuple[Branch, ...]

    def at(self, s: ComplexArray) -> CircuitAt:
        """Return the linear circuit at complex angular frequencies in rad/s."""
        return CircuitAt(s, tuple(branch_at(branch, s) for branch in self.branches))


def branch_at(branch: Branch, s: ComplexArray) -> BranchAt:
    """Return one branch at some frequencies."""
    chain = chain_at(branch.chain, s)
    driver: DriverAt | None = None
    if isinstance(branch.load, Driver):
        driver = branch.load.at(s)
        load_ohm = driver.blocked_ohm + s * driver.force_tm**2 / driver.stiffness_n_m
    else:
        load_ohm = branch.load.impedance_ohm(s)
    transfer_ohm = chain.a * load_ohm + chain.b
    admittance_s = (chain.c * load_ohm + chain.d) / transfer_ohm
    return BranchAt(branch.name, branch.load, driver, load_ohm, chain.a, transfer_ohm, admittance_s)
