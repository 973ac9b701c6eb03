"""What ngspice says of good and faulty units, saved, and how it is made anew.

    ./.run python -m tests.diagnosis.truth

Units are drawn from fixed seeds, so that only ngspice's answers need to be saved.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.diagnosis.decks import Unit, solved
from tests.diagnosis.netlists import BANDS_HZ, HERE, NAMES, netlist
from tests.diagnosis.production import Fault, drawn, faulty_units, planted

GRID = {"two_way": "dec 33 20 20k", "three_way": "dec 33 20 20k", "hybrid": "dec 30 20 40k"}
EXACT, GOOD, FAULTY, DOUBLE = 4, 25, 16, 8
LEVEL_POINTS = 5
PER_DECK = 60

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def exact_units(name: str) -> list[Unit]:
    """Return the units for the comparison to many digits; none is broken."""
    rng = np.random.default_rng(11)
    return [drawn(netlist(name), rng) for _ in range(EXACT)]


def good_units(name: str, count: int, seed: int = 12) -> list[Unit]:
    """Return good units."""
    rng = np.random.default_rng(seed)
    return [drawn(netlist(name), rng) for _ in range(count)]


def broken_units(name: str, count: int, seed: int = 13) -> list[tuple[Unit, Fault]]:
    """Return units with one fault each."""
    return list(faulty_units(netlist(name), count, np.random.default_rng(seed)))


def doubly_broken(name: str, count: int, seed: int = 14) -> list[tuple[Unit, Unit, Unit]]:
    """Return units with two parts at fault, each beside the same units with one of the two."""
    names = [part.name for part in netlist(name).parts]
    found = []
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        first, second = (names[i] for i in rng.choice(len(names), 2, replace=False))
        good = drawn(netlist(name), rng)
        one, _ = planted(good, netlist(name), first, rng)
        after = rng.bit_generator.state
        both, _ = planted(one, netlist(name), second, rng)
        rng.bit_generator.state = after
        other, _ = planted(good, netlist(name), second, rng)
        opened, bridged = one.opened | both.opened, one.bridged | both.bridged
        found.append((Unit(both.netlist, opened, bridged, gain=both.gain), one, other))
    return found


def answers(
    ngspice: str, name: str, units: list[Unit]
) -> tuple[FloatArray, ComplexArray, list[dict[str, ComplexArray]]]:
    """Return frequencies, impedances and sounds of any number of units, deck by deck."""
    hz = np.empty(0)
    z_ohm, sounds = [], []
    for first in range(0, len(units), PER_DECK):
        with tempfile.TemporaryDirectory() as folder:
            some = units[first : first + PER_DECK]
            hz, rows, heard = solved(ngspice, some, GRID[name], Path(folder))
        z_ohm.append(rows)
        sounds += heard
    return hz, np.concatenate(z_ohm), sounds


def levels_of(
    name: str, hz: FloatArray, sound: dict[str, ComplexArray], nominal: dict[str, ComplexArray]
) -> list[float]:
    """Return the level of every section against the nominal unit's, in dB."""
    found = []
    for output in netlist(name).outputs:
        at = np.geomspace(*BANDS_HZ[name][output.section], LEVEL_POINTS)
        curve_db = 20.0 * np.log10(np.abs(sound[output.part] / nominal[output.part]))
        found.append(float(np.mean(np.interp(np.log(at), np.log(hz), curve_db))))
    return found


def write(ngspice: str) -> None:
    """Save ngspice's answers."""
    found: dict[str, np.ndarray] = {}
    for name in NAMES:
        exact = exact_units(name)
        hz, z_ohm, sounds = answers(ngspice, name, [Unit(netlist(name)), *exact])
        found[f"{name}_hz"], found[f"{name}_exact"] = hz, z_ohm[1:]
        found[f"{name}_levels"] = np.array(
            [levels_of(name, hz, sound, sounds[0]) for sound in sounds[1:]]
        )
        for kind, units in (
            ("good", good_units(name, GOOD)),
            ("faulty", [unit for unit, _ in broken_units(name, FAULTY)]),
            ("double", [unit for unit, _, _ in doubly_broken(name, DOUBLE)]),
        ):
            _, z_ohm, heard = answers(ngspice, name, units)
            found[f"{name}_{kind}"] = z_ohm.astype(np.complex64)
            found[f"{name}_{kind}_levels"] = np.array(
                [levels_of(name, hz, sound, sounds[0]) for sound in heard]
            )
    np.savez_compressed(HERE / "truth.npz", **found)


@cache
def saved() -> dict[str, np.ndarray]:
    """Return what was saved."""
    with np.load(HERE / "truth.npz") as arrays:
        return dict(arrays)


def saved_exact(name: str) -> tuple[FloatArray, ComplexArray, list[Unit]]:
    """Return frequencies, impedances with all digits, and the units they are of."""
    return saved()[f"{name}_hz"], saved()[f"{name}_exact"], exact_units(name)


def values_of(name: str) -> Iterator[tuple[Unit, FloatArray]]:
    """Yield the same units and the levels of their sections."""
    yield from zip(exact_units(name), saved()[f"{name}_levels"], strict=True)


if __name__ == "__main__":
    program = shutil.which("ngspice")
    if program is None:
        sys.exit("ngspice is not installed: apt install ngspice")
    write(program)
