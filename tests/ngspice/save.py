"""Saves what ngspice says of a network: `python -m tests.ngspice.save NETWORK…`."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.ngspice.spice import FROM_HZ, HERE, PER_DECADE, TO_HZ, alternating


def save(network: str, ngspice: str) -> None:
    """Write the impedance of a network beside its deck, with nine digits."""
    with tempfile.TemporaryDirectory() as folder:
        frequency_hz, z_ohm = alternating(
            ngspice, network, Path(folder), f"dec {PER_DECADE} {FROM_HZ} {TO_HZ}"
        )
    np.savetxt(
        HERE / f"{network}.csv",
        np.stack([frequency_hz, z_ohm.real, z_ohm.imag], axis=1),
        fmt="%.9g",
        delimiter=",",
        header="frequency_hz,real_ohm,imaginary_ohm",
        comments="",
    )


if __name__ == "__main__":
    found = shutil.which("ngspice")
    if found is None:
        sys.exit("ngspice is not installed: apt install ngspice")
    for name in sys.argv[1:]:
        save(name, found)
