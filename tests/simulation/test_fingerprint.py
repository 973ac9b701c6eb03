"""A simulated unit that exists stays for ever what it is, to the sample."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.fingerprint import FILE, SERIALS, fingerprint


@pytest.mark.parametrize("serial", SERIALS)
def test_a_unit_sounds_as_it_always_did(serial: str) -> None:
    saved = np.loadtxt(FILE, np.int64, delimiter=",", skiprows=1)[:, SERIALS.index(serial)]
    # another processor's transform may round the last bit the other way
    np.testing.assert_allclose(fingerprint(serial), saved, rtol=0.0, atol=2.0)
    assert np.max(np.abs(saved)) > 1e5
