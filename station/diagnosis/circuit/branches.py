"""Two-terminal branches of a network: their impedance, and how each of their values moves it.

Values stand in one table for the whole network, a row for each variant of the unit; a branch
knows its columns. Arrays over variants and frequencies have the shape (batch, n).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, TypeAlias

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray

# Between shorted turns and the rest of a voice coil; from memory, no source. Where it lies
# elsewhere the share found is off by as much, the part is the same.
COUPLING_RATIO = 0.8

Slope: TypeAlias = tuple[int, ComplexArray]
Triple: TypeAlias = tuple[ComplexArray, ComplexArray, ComplexArray]


class BranchAt(Protocol):
    """A branch at some values and frequencies."""

    @property
    def z_ohm(self) -> ComplexArray:
        """Impedance, shape (batch, n)."""

    def slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the impedance over the value in it."""

    def output_ratio(self) -> ComplexArray:
        """Return what sounds per ampere, up to a constant factor."""

    def output_slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the logarithm of `output_ratio`."""


class Branch(Protocol):
    """A branch of a network."""

    @property
    def ends(self) -> tuple[str, str]:
        """The two nodes it connects."""

    def at(self, values: FloatArray, s: ComplexArray) -> BranchAt:
        """Return it at values of shape (batch, columns) and complex frequencies of shape (n,)."""


def column(values: FloatArray, index: int) -> FloatArray:
    """Return one column, ready to meet frequencies."""
    return values[:, index, np.newaxis]


@dataclass(frozen=True, slots=True)
class SeriesBranch:
    """Resistances, an inductance and a capacitance behind each other.

    `shares` are the factors of the resistances, as a secondary's counts by its turns ratio;
    `weight` is that of the whole branch, which may lie behind a transformer.
    """

    ends: tuple[str, str]
    resistances: tuple[int, ...] = ()
    shares: tuple[float, ...] = ()
    inductance: int | None = None
    capacitance: int | None = None
    weight: float = 1.0

    def at(self, values: FloatArray, s: ComplexArray) -> SeriesAt:
        """Return the branch at some values and frequencies."""
        z_ohm = np.zeros((values.shape[0], s.size), dtype=np.complex128)
        for index, share in zip(self.resistances, self.shares, strict=True):
            z_ohm += self.weight * share * column(values, index)
        if self.inductance is not None:
            z_ohm += self.weight * column(values, self.inductance) * s
        if self.capacitance is not None:
            z_ohm += self.weight / (column(values, self.capacitance) * s)
        return SeriesAt(self, values, s, z_ohm)


@dataclass(frozen=True, slots=True, eq=False)
class SeriesAt:
    """A series branch at some values and frequencies."""

    branch: SeriesBranch
    values: FloatArray
    s: ComplexArray
    z_ohm: ComplexArray

    def slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the impedance over the value in it."""
        branch = self.branch
        for index, share in zip(branch.resistances, branch.shares, strict=True):
            yield index, np.full((1, 1), branch.weight * share, dtype=np.complex128)
        if branch.inductance is not None:
            yield branch.inductance, branch.weight * self.s[np.newaxis]
        if branch.capacitance is not None:
            squared = column(self.values, branch.capacitance) ** 2
            yield branch.capacitance, -branch.weight / (squared * self.s)

    def output_ratio(self) -> ComplexArray:
        """Return the charge per ampere: what moves a panel's film, whose bias is constant."""
        return 1.0 / self.s[np.newaxis]

    def output_slopes(self) -> Iterator[Slope]:
        """Yield nothing: no value of its own changes it."""
        yield from ()


@dataclass(frozen=True, slots=True)
class DriverColumns:
    """Where the values of a driver stand."""

    re: int
    coil: int
    exponent: int
    force: int
    mass: int
    friction: int
    stiffness: int
    shorted: int
    box: tuple[int, int, int] | None  # stiffness, mass and resistance of the way out


@dataclass(frozen=True, slots=True)
class DriverBranch:
    """A moving-coil driver, with a share of its turns shorted where that is not zero.

    Shorted turns are a second, closed coil of the same wire in the same gap.
    """

    ends: tuple[str, str]
    at_columns: DriverColumns

    def at(self, values: FloatArray, s: ComplexArray) -> DriverAt:
        """Return the driver at some values and frequencies."""
        where = self.at_columns
        exponent = column(values, where.exponent)
        omega = s.imag
        turned = np.exp(0.5j * np.pi * exponent)
        coil = column(values, where.coil) * turned * np.exp(exponent * np.log(omega))
        mechanical = column(values, where.mass) * s + column(values, where.friction)
        mechanical = mechanical + column(values, where.stiffness) / s
        box: BoxAt | None = None
        if where.box is not None:
            box = box_at(values, where.box, s)
            mechanical = mechanical + box.impedance
        shorted = ShortedAt.of(values, where, coil) if np.any(values[:, where.shorted]) else None
        if shorted is not None:
            mechanical = mechanical + shorted.drag
        blocked = column(values, where.re) + coil if shorted is None else shorted.blocked
        force = column(values, where.force).astype(np.complex128)
        if shorted is not None:
            force = force * shorted.force
        z_ohm: ComplexArray = blocked + force**2 / mechanical
        return DriverAt(where, values, s, coil, mechanical, force, box, shorted, z_ohm)


@dataclass(frozen=True, slots=True, eq=False)
class DriverAt:
    """A driver at some values and frequencies."""

    where: DriverColumns
    values: FloatArray
    s: ComplexArray
    coil: ComplexArray
    mechanical: ComplexArray  # in kg/s, with the box and the shorted turns
    force: ComplexArray  # force over current, in T·m
    box: BoxAt | None
    shorted: ShortedAt | None
    z_ohm: ComplexArray

    def coil_slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the coil's own impedance."""
        yield self.where.coil, self.coil / column(self.values, self.where.coil)
        yield self.where.exponent, self.coil * np.log(self.s)

    def mechanical_slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the mechanical impedance."""
        where = self.where
        yield where.mass, self.s[np.newaxis]
        yield where.friction, np.ones((1, 1), dtype=np.complex128)
        yield where.stiffness, 1.0 / self.s[np.newaxis]
        if self.box is not None and where.box is not None:
            yield from zip(where.box, self.box.slopes, strict=True)

    def shorted_parts(self) -> Iterator[tuple[int, Triple]]:
        """Yield, per column that shorted turns change, the derivatives of all three.

        Those of the blocked impedance, of ln force, and of the mechanical impedance.
        """
        where, short = self.where, self.shorted
        if short is None:
            yield where.shorted, ShortedAt.first(self.values, where, self.coil)
            return
        yield where.re, short.over_re
        for index, slope in self.coil_slopes():
            blocked, ln_force, mechanical = short.over_coil
            yield index, (slope * blocked, slope * ln_force, slope * mechanical)
        force = (1.0 / column(self.values, where.force)).astype(np.complex128)
        yield where.force, (np.zeros((1, 1), dtype=np.complex128), force, 2.0 * short.drag * force)
        yield where.shorted, short.over_share

    def slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the impedance over the value in it."""
        motional = self.force**2 / self.mechanical
        moved = -motional / self.mechanical
        for index, (blocked, ln_force, mechanical) in self.shorted_parts():
            yield index, blocked + 2.0 * motional * ln_force + moved * mechanical
        if self.shorted is None:
            yield self.where.re, np.ones((1, 1), dtype=np.complex128)
            yield from self.coil_slopes()
            yield self.where.force, motional * (2.0 / column(self.values, self.where.force))
        for index, slope in self.mechanical_slopes():
            yield index, moved * slope

    def output_ratio(self) -> ComplexArray:
        """Return the cone's acceleration per ampere."""
        return self.s * self.force / self.mechanical

    def output_slopes(self) -> Iterator[Slope]:
        """Yield column and derivative of the logarithm of `output_ratio`."""
        moved = -1.0 / self.mechanical
        for index, (_, ln_force, mechanical) in self.shorted_parts():
            yield index, ln_force + moved * mechanical
        if self.shorted is None:
            force = 1.0 / column(self.values, self.where.force)
            yield self.where.force, force.astype(np.complex128)
        for index, slope in self.mechanical_slopes():
            yield index, moved * slope


@dataclass(frozen=True, slots=True, eq=False)
class BoxAt:
    """The air behind a cone: a spring beside the way out, as a mechanical impedance."""

    impedance: ComplexArray
    slopes: tuple[ComplexArray, ComplexArray, ComplexArray]


def box_at(values: FloatArray, columns: tuple[int, int, int], s: ComplexArray) -> BoxAt:
    """Return the box at some values and frequencies."""
    stiffness, mass, resistance = (column(values, index) for index in columns)
    out = s * mass + resistance
    impedance = 1.0 / (s / stiffness + 1.0 / out)
    squared = impedance**2
    over_out = squared / out**2
    return BoxAt(impedance, (squared * s / stiffness**2, over_out * s, over_out))


@dataclass(frozen=True, slots=True, eq=False)
class ShortedAt:
    """What shorted turns make of a driver; each `over_` is a derivative of all three."""

    blocked: ComplexArray
    force: ComplexArray  # relative to the whole coil's
    drag: ComplexArray
    over_re: Triple
    over_coil: Triple
    over_share: Triple

    @staticmethod
    def of(values: FloatArray, where: DriverColumns, coil: ComplexArray) -> ShortedAt:
        """Return the closed coil eliminated."""
        re, bl = column(values, where.re), column(values, where.force)
        t = column(values, where.shorted)
        live, k = 1.0 - t, COUPLING_RATIO
        loop = re + coil * t  # divided by the share
        g = k**2 * live**2 * t
        force = live * (1.0 - k * coil * t / loop)
        over_re = (
            live + g * coil**2 / loop**2,
            live * k * coil * t / loop**2 / force,
            -(bl**2) * t / loop**2,
        )
        over_coil = (
            live**2 - g * (2.0 * coil / loop - coil**2 * t / loop**2),
            -live * k * t * re / loop**2 / force,
            -(bl**2) * t**2 / loop**2,
        )
        turned = k**2 * (live**2 - 2.0 * live * t)
        over_share = (
            -re - 2.0 * coil * live - turned * coil**2 / loop + g * coil**3 / loop**2,
            (-(1.0 - k * coil * t / loop) - live * k * coil * re / loop**2) / force,
            bl**2 * re / loop**2,
        )
        blocked = re * live + coil * live**2 - g * coil**2 / loop
        return ShortedAt(blocked, force, bl**2 * t / loop, over_re, over_coil, over_share)

    @staticmethod
    def first(values: FloatArray, where: DriverColumns, coil: ComplexArray) -> Triple:
        """Return the derivative over the share where none is shorted yet."""
        re, bl = column(values, where.re), column(values, where.force)
        over_re = COUPLING_RATIO * coil / re
        return -re - 2.0 * coil - over_re**2 * re, -1.0 - over_re, (bl**2 / re).astype(complex)
