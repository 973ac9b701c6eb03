"""The table `[netlist]` of a limit file: what stands between the terminals and the air.

Nodes are named; "in" is the terminal that carries the signal, "0" the other one. A tolerance is
the ratio that incoming inspection lets pass, three standard deviations. The values of a driver
are those at rest, in its box.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, model_validator

from station.judging.tables.fieldtypes import NotNegative, Positive, Words
from station.tomlfiles.loading import StrictModel

TERMINAL, RETURN = "in", "0"
Tolerance = Annotated[float, Field(gt=0.0, lt=1.0)]
Nodes = tuple[Words, Words]


class PartTable(StrictModel):
    """What every part has: its name in the drawing, and what it is, for the technician."""

    name: Words
    what: Words
    nodes: Nodes

    @model_validator(mode="after")
    def check_nodes(self) -> PartTable:
        """Refuse a part with both ends on one node."""
        if self.nodes[0] == self.nodes[1]:
            raise ValueError(f"both ends of {self.name} are on node {self.nodes[0]!r}")
        return self


class ResistorTable(PartTable):
    """A resistor."""

    ohm: Positive
    tolerance: Tolerance


class CapacitorTable(PartTable):
    """A capacitor with what stands in series with it: its own loss, its leads, its joints."""

    farad: Positive
    tolerance: Tolerance
    series_ohm: Positive
    series_tolerance: Tolerance


class CoilTable(PartTable):
    """A coil with the resistance of its winding."""

    henry: Positive
    tolerance: Tolerance
    winding_ohm: Positive
    winding_tolerance: Tolerance


class BoxTable(StrictModel):
    """The air behind a driver: its spring, and the way out through a vent or a leak.

    Mass and resistance of the way out are referred to the cone's area; a tight box has no mass
    there and a resistance so large that the air stays in.
    """

    stiffness_n_m: Positive
    stiffness_tolerance: Tolerance
    out_kg: NotNegative
    out_kg_s: Positive
    out_tolerance: Tolerance


class DriverTable(PartTable):
    """A moving-coil driver by its mechanics; its coil is lossy, coil_ohm_sn times s^coil_exponent.

    Reference: Leach, J. Audio Eng. Soc. 50(6), 2002.
    """

    re_ohm: Positive
    re_tolerance: Tolerance
    force_factor_tm: Positive
    force_factor_tolerance: Tolerance
    moving_mass_kg: Positive
    moving_mass_tolerance: Tolerance
    stiffness_n_m: Positive
    stiffness_tolerance: Tolerance
    friction_kg_s: Positive
    friction_tolerance: Tolerance
    coil_ohm_sn: Positive
    coil_tolerance: Tolerance
    coil_exponent: Annotated[float, Field(gt=0.0, le=1.0)]
    coil_exponent_spread: Positive  # one standard deviation, absolute
    box: BoxTable | None = None


class TransformerTable(PartTable):
    """A step-up transformer; `nodes` are the primary, `secondary` is the far side's node.

    Leakage inductance and winding resistances stand in series between the two.
    """

    secondary: Words
    turns_ratio: Positive  # secondary over primary
    leakage_h: Positive
    leakage_tolerance: Tolerance
    primary_ohm: Positive
    secondary_ohm: Positive
    winding_tolerance: Tolerance


class PanelTable(PartTable):
    """An electrostatic panel, which is a capacitor to whoever drives it."""

    farad: Positive
    tolerance: Tolerance


class CableTable(StrictModel):
    """Leads and contacts between the station's sense points and the terminals, and the sense."""

    ohm: Positive
    ohm_tolerance: Positive
    gain_tolerance: Positive  # of the impedance as a whole: the current sense's calibration
    copper_tolerance: Positive  # by which all copper's resistance may be off: its temperature


class OutputTable(StrictModel):
    """Which part sounds in a section of `[[readings.sections]]`.

    The level of the section against the reference unit: its mean over good units and how far one
    lies from what the model says of its parts, one standard deviation.
    """

    section: Words
    part: Words
    mean_db: float
    spread_db: Positive


class LearnedTable(StrictModel):
    """What good units show beyond the model, over frequency.

    Re and Im of the mean of ln(measured/model), and how far one unit lies from it, one standard
    deviation. A unit that is far from nominal bends otherwise than a good one: the standard
    deviation grows by `change_error_ratio` of ln(measured/nominal).
    """

    units: Annotated[int, Field(ge=25)]
    change_error_ratio: NotNegative
    good_square: Positive
    hz: Annotated[tuple[Positive, ...], Field(min_length=2)]
    real: tuple[float, ...]
    imaginary: tuple[float, ...]
    spread: tuple[Positive, ...]

    @model_validator(mode="after")
    def check_lengths(self) -> LearnedTable:
        """Refuse columns of different length and frequencies that do not rise."""
        if len({len(self.hz), len(self.real), len(self.imaginary), len(self.spread)}) != 1:
            raise ValueError("hz, real, imaginary and spread must hold as many values")
        if any(after <= before for before, after in zip(self.hz, self.hz[1:], strict=False)):
            raise ValueError("hz must rise")
        return self


class NetlistTable(StrictModel):
    """All parts of a model revision, and how exactly its impedance is known."""

    noise_ratio: Positive  # of Z at one frequency, one standard deviation, where nothing is learned
    cable: CableTable
    resistors: tuple[ResistorTable, ...] = ()
    capacitors: tuple[CapacitorTable, ...] = ()
    coils: tuple[CoilTable, ...] = ()
    drivers: tuple[DriverTable, ...] = ()
    transformers: tuple[TransformerTable, ...] = ()
    panels: tuple[PanelTable, ...] = ()
    outputs: tuple[OutputTable, ...] = ()
    learned: LearnedTable | None = None

    @property
    def parts(self) -> tuple[PartTable, ...]:
        """Every part."""
        return (
            *self.resistors,
            *self.capacitors,
            *self.coils,
            *self.drivers,
            *self.transformers,
            *self.panels,
        )

    @model_validator(mode="after")
    def check_whole(self) -> NetlistTable:
        """Refuse a netlist whose parts do not make one network."""
        if fault := next(netlist_faults(self), None):
            raise ValueError(fault)
        return self


def netlist_faults(netlist: NetlistTable) -> Iterator[str]:
    """Yield what keeps the parts from being one network."""
    names = Counter(part.name for part in netlist.parts)
    for name, count in names.items():
        if count > 1:
            yield f"{count} parts are called {name!r}"
    sounding = {part.name for part in (*netlist.drivers, *netlist.panels)}
    for output in netlist.outputs:
        if output.part not in sounding:
            yield f"{output.section} sounds through {output.part!r}, which is no driver or panel"
    yield from transformer_faults(netlist)
    ends = Counter(node for nodes in edges(netlist) for node in nodes)
    if TERMINAL not in ends or RETURN not in ends:
        yield f"no part is connected to node {(TERMINAL if TERMINAL not in ends else RETURN)!r}"
    for node, count in ends.items():
        if count == 1 and node not in {TERMINAL, RETURN}:
            yield f"only one part is connected to node {node!r}"
    if lost := set(ends) - reached(edges(netlist), TERMINAL):
        yield f"no way leads from {TERMINAL!r} to {', '.join(sorted(lost))}"


def transformer_faults(netlist: NetlistTable) -> Iterator[str]:
    """Yield transformers that cannot be seen from their primary, and what cannot lie behind."""
    for transformer in netlist.transformers:
        if transformer.nodes[1] != RETURN:
            yield f"the primary of {transformer.name} must return to {RETURN!r}"
        if transformer.secondary in transformer.nodes:
            yield f"the secondary of {transformer.name} needs a node of its own"
    behind = {transformer.secondary for transformer in netlist.transformers}
    for driver in netlist.drivers:
        if behind & set(driver.nodes):
            yield f"{driver.name} is a driver behind a transformer, which is not foreseen"


def edges(netlist: NetlistTable) -> list[tuple[str, str]]:
    """Return the two nodes each part connects; a transformer connects its two sides."""
    windings = {part.name: (part.nodes[0], part.secondary) for part in netlist.transformers}
    return [windings.get(part.name, part.nodes) for part in netlist.parts]


def reached(connections: list[tuple[str, str]], start: str) -> set[str]:
    """Return all nodes that can be reached from one without passing the return."""
    found = {start}
    while True:
        known = found - {RETURN}
        more = {node for nodes in connections if known & set(nodes) for node in nodes} - found
        if not more:
            return found
        found |= more
