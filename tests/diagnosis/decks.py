"""Writes units as circuits for ngspice, many into one deck, and reads what it says of them.

A unit is a table of values. Nothing of the station's own algebra is used: mechanics are a circuit
with velocity as voltage and force as current, a transformer is two coupled inductors, a leak is a
resistor.
"""

from __future__ import annotations

import itertools
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from station.judging.tables.netlisttables import (
    CapacitorTable,
    CoilTable,
    DriverTable,
    NetlistTable,
    PanelTable,
    ResistorTable,
    TransformerTable,
)

OPEN_OHM, SHORT_OHM = 1e9, 0.02
MAGNETISING_H = 1e4  # 3e-7 off the ideal; with more, ngspice loses digits


@dataclass(frozen=True)
class Unit:
    """A network with its values, and with what is broken in it."""

    netlist: NetlistTable
    opened: frozenset[str] = frozenset()  # parts with a broken joint
    bridged: frozenset[str] = frozenset()  # parts with a solder bridge across them
    reversed: frozenset[str] = frozenset()
    gain: float = 1.0  # of the station's reading of the impedance


class Deck:
    """Lines of a deck, each unit with nodes of its own."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.saved: list[str] = []
        self._numbers = itertools.count(1)
        self._unit = 0

    def add(self, letter: str, first: str, second: str, value: str) -> str:
        name = f"{letter}{next(self._numbers)}"
        self.lines.append(f"{name} {first} {second} {value}")
        return name

    def node(self, name: str = "") -> str:
        if name == "0":
            return "0"
        return f"u{self._unit}_{name}" if name else f"x{next(self._numbers)}"

    def unit(self, unit: Unit) -> None:
        """Add one unit behind its leads, at one volt."""
        self._unit += 1
        at = self.node()
        self.saved.append(f"i({self.add('V', at, '0', 'AC 1')})".lower())
        self.add("R", at, self.node("in"), repr(unit.netlist.cable.ohm))
        for part in unit.netlist.parts:
            first, second = map(self.node, part.nodes)
            if part.name in unit.bridged:
                self.add("R", first, second, repr(SHORT_OHM))
            if part.name in unit.opened:
                first, outer = self.node(), first
                self.add("R", outer, first, repr(OPEN_OHM))
            if part.name in unit.reversed and isinstance(part, DriverTable):
                first, second = second, first
            match part:
                case ResistorTable():
                    self.add("R", first, second, repr(part.ohm))
                case CapacitorTable():
                    self.series(first, second, ("C", part.farad), ("R", part.series_ohm))
                case CoilTable():
                    self.series(first, second, ("L", part.henry), ("R", part.winding_ohm))
                case PanelTable():
                    self.add("C", first, second, repr(part.farad))
                    self.saved.append(f"v({first})")
                case TransformerTable():
                    self.transformer(first, self.node(part.secondary), part)
                case DriverTable():
                    self.driver(first, second, part)

    def series(self, first: str, second: str, *pieces: tuple[str, float]) -> None:
        for letter, value in pieces[:-1]:
            nearer = self.node()
            self.add(letter, first, nearer, repr(value))
            first = nearer
        letter, value = pieces[-1]
        self.add(letter, first, second, repr(value))

    def transformer(self, primary: str, secondary: str, part: TransformerTable) -> None:
        inner, outer = self.node(), self.node()
        self.series(primary, inner, ("R", part.primary_ohm), ("L", part.leakage_h))
        first = self.add("L", inner, "0", repr(MAGNETISING_H))
        second = self.add("L", outer, "0", repr(MAGNETISING_H * part.turns_ratio**2))
        self.add("K", first, second, "1")
        self.add("R", outer, secondary, repr(part.secondary_ohm))

    def lossy(self, first: str, second: str, k: float, n: float) -> None:
        """Add K·s^n as a resistance and an inductance that follow the frequency."""
        w, middle = "2*pi*(hertz+1e-9)", self.node()
        self.add("R", first, middle, f"r='{k!r}*pow({w},{n!r})*cos({n!r}*pi/2)'")
        self.add("L", middle, second, f"l='{k!r}*pow({w},{n!r}-1)*sin({n!r}*pi/2)'")

    def driver(self, first: str, second: str, part: DriverTable) -> None:
        copper, sensed, moved, velocity = (self.node() for _ in range(4))
        k, n = part.coil_ohm_sn, part.coil_exponent
        self.add("R", first, copper, repr(part.re_ohm))
        self.lossy(copper, sensed, k, n)
        meter = self.add("V", sensed, moved, "0")
        self.motor(moved, second, velocity, meter, part.force_factor_tm)
        self.add("C", velocity, "0", repr(part.moving_mass_kg))
        self.add("R", velocity, "0", repr(1.0 / part.friction_kg_s))
        self.add("L", velocity, "0", repr(1.0 / part.stiffness_n_m))
        self.saved.append(f"v({velocity})")
        if part.box is not None:
            out = self.node()
            self.add("L", velocity, out, repr(1.0 / part.box.stiffness_n_m))
            self.add("R", out, "0", repr(1.0 / part.box.out_kg_s))
            if part.box.out_kg > 0.0:
                self.add("C", out, "0", repr(part.box.out_kg))

    def motor(self, first: str, second: str, velocity: str, meter: str, force_tm: float) -> None:
        name = next(self._numbers)
        self.lines.append(f"E{name} {first} {second} {velocity} 0 {force_tm!r}")
        self.lines.append(f"F{name} 0 {velocity} {meter} {force_tm!r}")


def binary(path: Path) -> tuple[list[str], NDArray[np.complex128]]:
    """Return names and rows of a binary raw file with complex numbers."""
    raw = path.read_bytes()
    head, _, body = raw.partition(b"Binary:\n")
    listing = head.decode().rpartition("Variables:")[2].strip().splitlines()
    names = [line.split()[1] for line in listing]
    return names, np.frombuffer(body, dtype=np.complex128).reshape(-1, len(names))


def solved(
    ngspice: str, units: list[Unit], grid: str, folder: Path
) -> tuple[NDArray[np.float64], NDArray[np.complex128], list[dict[str, NDArray[np.complex128]]]]:
    """Return frequencies, impedances (a row for each unit), and what sounds per volt, by part.

    `grid` is ngspice's own, as "dec 33 20 20k". A cone's sound is its acceleration, a panel's its
    charge.
    """
    deck, parts = Deck(), []
    for unit in units:
        before = len(deck.saved)
        deck.unit(unit)
        sounding = [p.name for p in unit.netlist.parts if isinstance(p, DriverTable | PanelTable)]
        parts.append(
            (deck.saved[before], dict(zip(sounding, deck.saved[before + 1 :], strict=True)))
        )
    body = "\n".join(deck.lines)
    saves = "\n".join(f".save {name}" for name in deck.saved)
    (folder / "deck.cir").write_text(
        f"* units\n{body}\n{saves}\n.options reltol=1e-9\n.ac {grid}\n.control\n"
        "set filetype=binary\nrun\nwrite out.raw\nquit 0\n.endc\n.end\n"
    )
    subprocess.run([ngspice, "-b", "deck.cir"], cwd=folder, check=True, capture_output=True)
    names, rows = binary(folder / "out.raw")
    frequency_hz = rows[:, 0].real
    columns = dict(zip(names, rows.T, strict=True))
    current = {name: columns[name if name in columns else f"i({name})"] for name, _ in parts}
    z_ohm = np.array(
        [-unit.gain / current[name] for unit, (name, _) in zip(units, parts, strict=True)]
    )
    s = 2j * np.pi * frequency_hz
    sounds = []
    for unit, (_, sounding) in zip(units, parts, strict=True):
        factors = {driver.name: s for driver in unit.netlist.drivers}
        factors |= {
            panel.name: -panel.farad if panel.name in unit.reversed else panel.farad
            for panel in unit.netlist.panels
        }
        sounds.append({part: columns[at] * factors[part] for part, at in sounding.items()})
    return frequency_hz, z_ohm, sounds
