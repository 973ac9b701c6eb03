"""Impedance and response of every model are what ngspice says of the same parts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from station.simulation.products.units import unit_truth
from tests.simulation.ngspice.units import SEED, SERIALS, computed, saved


@pytest.mark.parametrize("serial", SERIALS)
def test_small_signals_are_those_of_the_circuit(serial: str) -> None:
    table = saved(serial)
    frequency_hz = table[:, 0]
    unit = unit_truth(serial, SEED, {})
    # nine digits were saved
    impedance_ohm = table[:, 1] + 1j * table[:, 2]
    np.testing.assert_allclose(unit.impedance(frequency_hz), impedance_ohm, rtol=1e-7)
    response = table[:, 3] + 1j * table[:, 4]
    np.testing.assert_allclose(unit.response(frequency_hz), response, rtol=1e-7)


@pytest.mark.tools
@pytest.mark.parametrize("serial", SERIALS)
def test_saved_small_signals_are_what_ngspice_says_today(
    serial: str, tool: Callable[[str], str], tmp_path: Path
) -> None:
    table, before = computed(tool("ngspice"), serial, tmp_path), saved(serial)
    assert table.shape == before.shape
    scale = np.maximum(np.abs(before), 1e-6 * np.max(np.abs(before), axis=0))
    assert np.max(np.abs(table - before) / scale) < 1e-6
