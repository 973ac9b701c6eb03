"""Units whose small signals ngspice computed, and the decks it computed them from.

`python -m tests.simulation.ngspice.units` computes and saves them anew.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from station.simulation.products import fell60, scree12, tarn2
from station.simulation.products.spread import Spread
from tests.ngspice.spice import run
from tests.simulation.ngspice.netlist import Netlist, fell60_lines, scree12_lines, tarn2_lines

HERE = Path(__file__).parent
SEED = 7
GRID = "dec 20 10 40k"
HEADER = "frequency_hz,real_ohm,imaginary_ohm,real_pa_v,imaginary_pa_v"

FloatArray = NDArray[np.float64]


def parts_written(serial: str) -> tuple[Netlist, str]:
    """Return the netlist of a unit and the node of its sound."""
    net, spread = Netlist(), Spread(serial, SEED)
    writers: dict[str, Callable[[], str]] = {
        "T2A": lambda: tarn2_lines(tarn2.produced(spread), net),
        "F6A": lambda: fell60_lines(fell60.produced(spread), net),
        "S12A": lambda: scree12_lines(scree12.produced(spread), net),
    }
    sound = writers[serial[:-5]]()
    return net, sound


def deck_of(serial: str) -> str:
    """Return the whole deck: one volt at the terminals, current and sound written to a file."""
    net, sound = parts_written(serial)
    netlist = "\n".join(net.lines)
    return f"""* small signals of {serial}
V0 in 0 AC 1
{netlist}
.ac {GRID}
.control
set wr_singlescale
set numdgt=12
run
let z = -v(in)/i(V0)
let p = v({sound})
wrdata out.txt real(z) imag(z) real(p) imag(p)
quit 0
.endc
.end
"""


def computed(ngspice: str, serial: str, folder: Path) -> FloatArray:
    """Return what ngspice says of a unit, a row for each frequency, columns as in HEADER."""
    run(ngspice, deck_of(serial), folder)
    return np.loadtxt(folder / "out.txt")


def saved(serial: str) -> FloatArray:
    """Return what it said when it was saved."""
    return np.loadtxt(HERE / f"{serial}.csv", delimiter=",", skiprows=1)


SERIALS = ("T2A00001", "F6A00001", "S12A00001")

if __name__ == "__main__":
    found = shutil.which("ngspice")
    if found is None:
        sys.exit("ngspice is not installed: apt install ngspice")
    for serial in SERIALS:
        with tempfile.TemporaryDirectory() as place:
            table = computed(found, serial, Path(place))
        np.savetxt(HERE / f"{serial}.csv", table, "%.9g", ",", header=HEADER, comments="")
