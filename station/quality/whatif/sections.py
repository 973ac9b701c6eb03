"""Which part of the reference response each section makes, and how parts of it move the whole.

A netlist knows what each section gives per volt but for one constant, and nothing of the cabinet.
Where one section sounds alone, that is enough: its response moves as its output does. Where two
overlap it takes the share of each in size and phase. The shares are those of the outputs, each
with a level, a tilt (the cabinet's edges) and a delay of its own, that come closest to the
reference response together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Reference
from station.diagnosis.circuit.building import NEPER_DB
from station.diagnosis.circuit.loudness import outputs_per_volt
from station.diagnosis.circuit.network import Network, Output
from station.records.columns.columns import BoolArray

UNLIKE_DB = 2.0  # common practice, no source: further off, the overlap is not understood
CANCELS = 1.5  # the sections' sizes over their sum: beyond it a small error of phase is a large one
FEWEST_POINTS = 8  # of the reference in a section's range: level, tilt, delay and phase are fitted
HEARD = 0.1  # the share of the whole from which a second section counts
TYPICAL_NEPER = 0.1  # of what one network leaves of a cabinet: beyond it counts less
DELAYS_S = (0.0, 1e-4, 2e-4)  # tried for sections that sound deeper in the cabinet


@dataclass(frozen=True, slots=True, eq=False)
class SectionModel:
    """What outputs need to make a reference response, shape (n_outputs,) but for the last."""

    network: Network
    level_neper: FloatArray  # at the middle of the reference
    tilt_neper: FloatArray  # from one frequency to e times as high
    delay_s: FloatArray
    middle_hz: float
    phase_rad: float

    def pressures(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return what each section makes, shape (n_outputs, n)."""
        nominal = np.zeros((1, len(self.network.variables)))
        outputs = outputs_per_volt(self.network, nominal, frequency_hz)[:, 0]
        turned = 2.0 * np.pi * frequency_hz * self.delay_s[:, None] - self.phase_rad
        tilted = self.tilt_neper[:, None] * np.log(frequency_hz / self.middle_hz)
        found: ComplexArray = outputs * np.exp(self.level_neper[:, None] + tilted - 1j * turned)
        return found

    def shares(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the complex share of each section, shape (n_outputs, n); together they are one."""
        pressures = self.pressures(frequency_hz)
        found: ComplexArray = pressures / pressures.sum(axis=0)
        return found

    def unlikeness_db(self, reference: Reference) -> float:
        """Return how far off the reference the model is where sections overlap, at worst."""
        whole = self.pressures(reference.frequency_hz)
        sizes = np.sort(np.abs(whole / whole.sum(axis=0)), axis=0)
        overlap = sizes[-2] > HEARD if sizes.shape[0] > 1 else np.zeros(sizes.shape[1], np.bool_)
        off_db = NEPER_DB * np.abs(np.log(np.abs(whole.sum(axis=0) / reference.response)))
        return float(np.max(off_db[overlap], initial=0.0))


def section_model(network: Network, reference: Reference) -> SectionModel | None:
    """Return the model that comes closest to a reference response, None if none will do.

    None comes close enough, the reference knows too little of a section's own range, or the
    sections take so much from each other that what is left says too little of them.

    Parameters
    ----------
    network : Network
        With one output or more.
    reference : Reference
        Of a good unit, with phase and without the time of flight.
    """
    at_hz = reference.frequency_hz
    if min(int(own_range(output, at_hz).sum()) for output in network.outputs) < FEWEST_POINTS:
        return None
    count = len(network.outputs)
    log_reference = np.log(reference.response)
    middle_hz = float(np.sqrt(at_hz[0] * at_hz[-1]))

    def model(parameters: FloatArray) -> SectionModel:
        level, tilt, delay = parameters[:-1].reshape(3, count)
        phase_rad = float(parameters[-1])
        return SectionModel(network, level, tilt, delay * DELAYS_S[-1], middle_hz, phase_rad)

    plain = model(np.zeros(3 * count + 1)).pressures(at_hz)
    turn = -2j * np.pi * at_hz * DELAYS_S[-1]
    above = np.log(at_hz / middle_hz)

    def residuals(parameters: FloatArray) -> FloatArray:
        level, tilt, delay = parameters[:-1].reshape(3, count, 1)
        own = level + tilt * above + delay * turn + 1j * parameters[-1]
        off = np.log(np.sum(plain * np.exp(own), axis=0)) - log_reference
        angle = np.angle(np.exp(1j * off.imag))
        return np.concatenate([off.real, angle])

    fits = [
        least_squares(residuals, start, loss="soft_l1", f_scale=TYPICAL_NEPER)
        for start in starts(network, reference, plain)
    ]
    found = model(min(fits, key=lambda fit: fit.cost).x)
    cancelled = float(np.abs(found.shares(at_hz)).sum(axis=0).max())
    understood = found.unlikeness_db(reference) <= UNLIKE_DB and cancelled <= CANCELS
    return found if understood else None


def own_range(output: Output, at_hz: FloatArray) -> BoolArray:
    """Return which frequencies lie in the range over which an output's level is read."""
    inside: BoolArray = (at_hz >= output.frequency_hz[0]) & (at_hz <= output.frequency_hz[-1])
    return inside


def starts(network: Network, reference: Reference, plain: ComplexArray) -> list[FloatArray]:
    """Return where the search begins: levels by each section's own range, some delays."""
    at_hz = reference.frequency_hz
    count = len(network.outputs)
    levels = []
    for output, pressure in zip(network.outputs, plain, strict=True):
        own = own_range(output, at_hz)
        levels.append(float(np.mean(np.log(np.abs(reference.response[own] / pressure[own])))))
    return [
        np.array([*levels, *[0.0] * count, delay_s / DELAYS_S[-1], *[0.0] * count])
        for delay_s in DELAYS_S
    ]


def moved_db(
    model: SectionModel, variables: FloatArray, own_db: FloatArray, frequency_hz: FloatArray
) -> FloatArray:
    """Return by how much variants of a unit differ from the reference, shape (batch, n), in dB.

    Parameters
    ----------
    model : SectionModel
        Of the reference.
    variables : ndarray, shape (batch, n_variables)
        Logarithms of ratios to nominal.
    own_db : ndarray, shape (batch, n_outputs)
        What a section's level has of its own, beyond its network.
    frequency_hz : ndarray, shape (n,)
        Where.
    """
    network = model.network
    nominal = outputs_per_volt(network, np.zeros((1, variables.shape[1])), frequency_hz)
    moved = outputs_per_volt(network, variables, frequency_hz) / nominal
    moved *= np.exp(own_db.T / NEPER_DB)[:, :, None]
    whole = np.einsum("on,obn->bn", model.shares(frequency_hz), moved)
    difference_db: FloatArray = NEPER_DB * np.log(np.abs(whole))
    return difference_db
