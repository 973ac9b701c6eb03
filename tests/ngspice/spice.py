"""Runs the networks beside this file through ngspice: alternating current, and a sweep in time."""

from __future__ import annotations

import math
import subprocess
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.signals.sweep import Sweep

HERE = Path(__file__).parent
NETWORKS = ("driver", "two_way", "hybrid")
PER_DECADE = 200
FROM_HZ, TO_HZ = 0.5, 60e3

STEP_S = 2e-6
# The step stays at that; the tolerances only have to let it.
OPTIONS = "reltol=1e-4 trtol=50"


def run(ngspice: str, deck: str, folder: Path) -> None:
    """Run a deck in a folder; raise CalledProcessError if ngspice fails."""
    (folder / "deck.cir").write_text(deck)
    subprocess.run([ngspice, "-b", "deck.cir"], cwd=folder, check=True, capture_output=True)


def alternating(
    ngspice: str, network: str, folder: Path, grid: str
) -> tuple[FloatArray, ComplexArray]:
    """Return frequency and impedance on a grid such as "dec 200 0.5 60k"."""
    run(
        ngspice,
        f"""* impedance of {network}
.include {HERE / network}.cir
V1 in 0 AC 1
X1 in 0 unit
.ac {grid}
.control
set wr_singlescale
set numdgt=12
run
let z = -v(in)/i(V1)
wrdata z.txt real(z) imag(z)
quit 0
.endc
.end
""",
        folder,
    )
    rows = np.loadtxt(folder / "z.txt")
    return rows[:, 0], rows[:, 1] + 1j * rows[:, 2]


def seen_by_steps(frequency_hz: FloatArray) -> FloatArray:
    """Return the frequency whose impedance a transient with fixed steps shows instead.

    The trapezoidal rule is the bilinear transform: w becomes 2 / h tan(w h / 2), 0.5 % more at
    20 kHz with steps of 2 us. Taken into account, a large step is as exact as a small one.
    """
    warped_hz: FloatArray = np.tan(np.pi * frequency_hz * STEP_S) / (np.pi * STEP_S)
    return warped_hz


def sweep_source(sweep: Sweep) -> str:
    """Return the faded sweep as an expression of time, written out from its published formula."""
    time = f"(time-{sweep.lead_in_samples / sweep.rate_hz!r})"
    left = f"({sweep.true_duration_s!r}-{time})"
    rise_s = sweep.rate_s * math.log(sweep.faded_in_hz / sweep.start_hz)
    fall_s = sweep.rate_s * math.log(2.0) / 12.0
    rise = f"sin({math.pi / 2!r}*min(1,{time}/{rise_s!r}))^2"
    fall = f"sin({math.pi / 2!r}*min(1,{left}/{fall_s!r}))^2"
    phase = f"{2 * math.pi * sweep.start_hz * sweep.rate_s!r}*(exp({time}/{sweep.rate_s!r})-1)"
    wave = f"{math.sqrt(2.0) * sweep.level_v!r}*{rise}*{fall}*sin({phase})"
    return f"{time}<0 ? 0 : ({left}<0 ? 0 : {wave})"


def transient(
    ngspice: str, network: str, folder: Path, sweep: Sweep
) -> tuple[FloatArray, FloatArray]:
    """Return voltage and current at the terminals while a sweep plays, one value a sample."""
    end_s = sweep.n_samples / sweep.rate_hz
    run(
        ngspice,
        f"""* {network} under a sweep
.include {HERE / network}.cir
BS in 0 V = {sweep_source(sweep)}
VI in a 0
X1 a 0 unit
.options {OPTIONS}
.control
set filetype=binary
save v(in) i(VI)
tran {STEP_S:.9g} {end_s:.12g} 0 {STEP_S:.9g}
write transient.raw
quit 0
.endc
.end
""",
        folder,
    )
    raw = (folder / "transient.raw").read_bytes()
    marker = b"Binary:\n"
    rows = np.frombuffer(raw[raw.index(marker) + len(marker) :]).reshape(-1, 3)
    rows = rows[np.append(True, np.diff(rows[:, 0]) > STEP_S / 1e6)]
    instants_s = np.arange(sweep.n_samples) / sweep.rate_hz
    voltage_v, current_a = CubicSpline(rows[:, 0], rows[:, 1:])(instants_s).T
    return voltage_v, current_a
