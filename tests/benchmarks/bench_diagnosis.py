"""Ten thousand units by two hundred frequencies against a dense solver's time for the same."""

from __future__ import annotations

import time

import numpy as np
import pytest

from station.diagnosis.circuit.building import network_of
from station.diagnosis.circuit.solver import impedance_ohm
from tests.diagnosis.netlists import NAMES, netlist

UNITS, POINTS = 10_000, 200
DENSE_SHARE = 100  # the dense solver only gets so small a share, for patience
MOST_RATIO = 2.0


@pytest.mark.parametrize("name", NAMES)
def test_many_units_are_faster_than_by_dense_matrices(name: str) -> None:
    network = network_of(netlist(name))
    rng = np.random.default_rng(1)
    variables = rng.standard_normal((UNITS, len(network.variables))) * network.sigma
    frequency_hz = np.geomspace(20.0, 20e3, POINTS)
    began_s = time.process_time()
    impedance_ohm(network, variables, frequency_hz)
    ours_s = time.process_time() - began_s
    nodes = network.plan.nodes
    matrices = rng.standard_normal((UNITS * POINTS // DENSE_SHARE, nodes, nodes)) + 0j
    matrices += nodes * np.eye(nodes)
    began_s = time.process_time()
    np.linalg.solve(matrices, np.ones((matrices.shape[0], nodes, 1)))
    dense_s = DENSE_SHARE * (time.process_time() - began_s)
    print(f"{name}: {ours_s:.2f} s, dense matrices alone {dense_s:.2f} s")
    assert ours_s < MOST_RATIO * dense_s  # with all branches and their lossy coils computed
