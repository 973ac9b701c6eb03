"""How far variants of a unit are from what was measured, and how every variable moves that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import ComplexArray, FloatArray
from station.diagnosis.circuit.loudness import slopes_of_all
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.circuit.solver import impedance_slopes
from station.diagnosis.fits.evidence import Evidence

# A silent section is not heard to be silent without end: its neighbours and the room stay. Both
# levels are read on top of so much, relative to a good unit's.
LEVEL_FLOOR_RATIO = 0.1
# Logarithms of ratios: a motor is not five times as strong, nor a cone five times as heavy, but a
# suspension may stick or tear.
MOTOR_BOUND, SPRING_BOUND = 1.6, 3.0
MOST_SHARE = 0.6  # of a coil's turns; with more it is a bridge


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """Residuals in standard deviations, and how every value of the network moves them.

    Parameters
    ----------
    blocks : tuple of pairs of ndarray
        Residuals (batch, n) with their derivatives (batch, n_values, n), for each kind of
        measurement.
    chain : ndarray, shape (batch, n_values, n_variables)
        How every variable moves every value.
    """

    blocks: tuple[tuple[FloatArray, FloatArray], ...]
    chain: FloatArray

    @property
    def chi_square(self) -> FloatArray:
        """Sum of squares of each variant."""
        return np.asarray(sum(np.einsum("bn,bn->b", away, away) for away, _ in self.blocks))

    def normal_equations(self, scale: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return half the gradient of chi-square and its normal matrix.

        Of shapes (batch, n_variables) and (batch, n_variables, n_variables), over variables in
        units of `scale`, (batch, n_variables).
        """
        chain = self.chain * scale[:, np.newaxis, :]
        over = sum((slopes @ away[:, :, np.newaxis])[:, :, 0] for away, slopes in self.blocks)
        (_, first), *others = self.blocks
        inner = first @ first.transpose(0, 2, 1)
        for _, slopes in others:
            inner += slopes @ slopes.transpose(0, 2, 1)
        gradient = (np.asarray(over)[:, np.newaxis, :] @ chain)[:, 0]
        return gradient, chain.transpose(0, 2, 1) @ (inner @ chain)

    def some(self, kept: NDArray[np.intp]) -> Residuals:
        """Return those of some variants only."""
        blocks = tuple((away[kept], slopes[kept]) for away, slopes in self.blocks)
        return Residuals(blocks, self.chain[kept])

    def replace(self, at: NDArray[np.intp], others: Residuals, taken: NDArray[np.bool_]) -> None:
        """Put those that are taken of others in the place of the variants at `at`."""
        for (away, slopes), (new_away, new_slopes) in zip(self.blocks, others.blocks, strict=True):
            away[at], slopes[at] = new_away[taken], new_slopes[taken]
        self.chain[at] = others.chain[taken]


def residuals(network: Network, evidence: Evidence, variables: FloatArray) -> Residuals:
    """Return the residuals of some variants, measured less computed.

    Real and imaginary parts stand beside each other.
    """
    values = network.values(variables)
    blocks = []
    if np.any(np.isfinite(evidence.level_db)):
        z_ohm, slopes, levels_db, over = slopes_of_all(network, values, evidence.frequency_hz)
        blocks.append(level_residuals(evidence, levels_db, over))
    else:
        z_ohm, slopes = impedance_slopes(network, values, evidence.frequency_hz)
    away = wrapped(evidence.ln_z - np.log(z_ohm)) / evidence.sigma
    slopes /= -evidence.sigma
    blocks.append((away.view(np.float64), slopes.view(np.float64)))
    return Residuals(tuple(blocks), network.chain(values))


def level_residuals(
    evidence: Evidence, levels_db: FloatArray, slopes: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the residuals of the sections' levels with their derivatives."""
    heard = np.isfinite(evidence.level_db)
    measured_db = np.where(heard, evidence.level_db, 0.0)
    sigma_db = np.where(heard, evidence.level_sigma_db, np.inf)
    floored_db, share = with_floor(levels_db - evidence.nominal_db)
    away = (with_floor(measured_db)[0] - floored_db) / sigma_db
    return away, -slopes * (share / sigma_db)[:, np.newaxis, :]


def wrapped(ln_ratio: ComplexArray) -> ComplexArray:
    """Return a complex logarithm with its phase between -pi and pi."""
    turns = np.round(ln_ratio.imag / (2.0 * np.pi))
    return np.asarray(ln_ratio - 2j * np.pi * turns)


def with_floor(level_db: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return levels that do not sink below a floor, and their derivative over the level."""
    ratio = 10.0 ** (level_db / 20.0)
    return 20.0 * np.log10(ratio + LEVEL_FLOOR_RATIO), ratio / (ratio + LEVEL_FLOOR_RATIO)


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """What no variable can pass, such as a negative share of shorted turns."""

    lowest: FloatArray
    highest: FloatArray

    def kept(self, variables: FloatArray) -> FloatArray:
        """Return variables brought back inside."""
        return np.asarray(np.clip(variables, self.lowest, self.highest))


def bounds_of(network: Network) -> Bounds:
    """Return the bounds of a network's variables."""
    limits = {
        Mode.SHORTED: (0.0, MOST_SHARE),
        Mode.TURNS: (-np.inf, 0.0),
        Mode.BRIDGE: (-np.inf, 0.0),
        **dict.fromkeys((Mode.FORCE, Mode.MASS, Mode.COIL), (-MOTOR_BOUND, MOTOR_BOUND)),
        **dict.fromkeys((Mode.STIFFNESS, Mode.FRICTION), (-SPRING_BOUND, SPRING_BOUND)),
    }
    pairs = [limits.get(variable.mode, (-np.inf, np.inf)) for variable in network.variables]
    lowest, highest = np.array(pairs).T
    return Bounds(lowest, highest)
