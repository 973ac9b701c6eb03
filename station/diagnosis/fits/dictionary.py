"""The impedance of single faults, computed once for a model, to know where to start from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.diagnosis.circuit.network import Network
from station.diagnosis.circuit.solver import impedance_ohm, impedance_slopes
from station.diagnosis.fits.evidence import Evidence
from station.diagnosis.fits.hypotheses import Hypothesis
from station.diagnosis.fits.residuals import wrapped

STARTS_KEPT = 24
STARTS_OF_EACH = 2
# What the tolerances of all other parts may do is taken off to first order only; the rest of it
# counts as noise.
ROUGH_RATIO = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Dictionary:
    """Starts of all hypotheses with their impedance.

    Parameters
    ----------
    owner : ndarray of int, shape (n_starts,)
        The hypothesis each start belongs to.
    starts : ndarray, shape (n_starts, n_variables)
        Variables.
    ln_z : ndarray, shape (n_starts, n)
        Logarithm of the impedance.
    tolerances : ndarray, shape (n, n_variables)
        How far one standard deviation of each variable moves it on a nominal unit.
    """

    owner: NDArray[np.intp]
    starts: FloatArray
    ln_z: ComplexArray
    tolerances: ComplexArray

    def __post_init__(self) -> None:
        for name in ("owner", "starts", "ln_z", "tolerances"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def dictionary_of(
    network: Network, hypotheses: Sequence[Hypothesis], frequency_hz: FloatArray
) -> Dictionary:
    """Return the dictionary of a model at the frequencies of its impedance."""
    pairs = [(at, start) for at, one in enumerate(hypotheses) for start in one.starts]
    starts = np.array([start for _, start in pairs])
    values = network.nominal[np.newaxis]
    _, slopes = impedance_slopes(network, values, frequency_hz)
    tolerances = slopes[0].T @ network.chain(values)[0] * network.sigma
    return Dictionary(
        np.array([at for at, _ in pairs], dtype=np.intp),
        starts,
        np.log(impedance_ohm(network, starts, frequency_hz)),
        tolerances,
    )


def likely_starts(found: Dictionary, evidence: Evidence) -> list[tuple[int, FloatArray]]:
    """Return the starts that come closest to what was measured, the best first."""
    sigma = np.hypot(evidence.sigma, ROUGH_RATIO)
    away = wrapped(evidence.ln_z - found.ln_z) / sigma
    spread = found.tolerances / sigma[:, np.newaxis]
    inner = (np.conj(spread.T) @ spread).real + np.eye(spread.shape[1])
    along = (away @ np.conj(spread)).real
    explained = np.einsum("sv,sv->s", along, np.linalg.solve(inner, along.T).T)
    total = np.einsum("sn,sn->s", away, np.conj(away)).real - explained
    chosen: list[int] = []
    counts: dict[int, int] = {}
    for at in np.argsort(total):
        owner = int(found.owner[at])
        if len(chosen) < STARTS_KEPT and counts.get(owner, 0) < STARTS_OF_EACH:
            counts[owner] = counts.get(owner, 0) + 1
            chosen.append(int(at))
    return [(int(found.owner[at]), found.starts[at]) for at in chosen]
