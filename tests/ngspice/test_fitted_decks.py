"""The saved impedances that the fits are checked with are what ngspice says today."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.ngspice.spice import FROM_HZ, PER_DECADE, TO_HZ, alternating
from tests.ngspice.truth import saved

pytestmark = pytest.mark.tools


@pytest.mark.parametrize("network", ["moving_coil", "panel"])
def test_saved_impedance_is_what_the_deck_gives(
    network: str, tool: Callable[[str], str], tmp_path: Path
) -> None:
    grid = f"dec {PER_DECADE} {FROM_HZ} {TO_HZ}"
    frequency_hz, z_ohm = alternating(tool("ngspice"), network, tmp_path, grid)
    saved_hz, saved_ohm = saved(network)
    # Nine digits were saved of each part.
    np.testing.assert_allclose(frequency_hz, saved_hz, rtol=1e-8)
    np.testing.assert_allclose(z_ohm, saved_ohm, rtol=1e-7)
