"""From the tables of a netlist to a network that can be solved."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from station.diagnosis.circuit.branches import Branch, DriverBranch, DriverColumns, SeriesBranch
from station.diagnosis.circuit.elimination import elimination_plan
from station.diagnosis.circuit.network import (
    CABLE,
    CLIMATE,
    STATION,
    Mode,
    Network,
    Output,
    Variable,
)
from station.judging.tables.netlisttables import (
    RETURN,
    TERMINAL,
    BoxTable,
    CapacitorTable,
    CoilTable,
    DriverTable,
    NetlistTable,
    PanelTable,
    ResistorTable,
    TransformerTable,
)
from station.judging.tables.readingtables import SectionTable

SIGMAS = 3.0  # in a tolerance
NEPER_DB = 20.0 / math.log(10.0)
# What a bridge leaves is a resistance, and of inductance or capacitance nothing.
BRIDGE_STEEPNESS = 4.0
LEVEL_POINTS = 5  # frequencies at which a section's level is read
CABLE_WORDS = "the leads between the station and the unit"
STATION_WORDS = "the station's current sense"


class Builder:
    """Collects values, variables and branches, one part after another."""

    def __init__(self, netlist: NetlistTable) -> None:
        self.netlist = netlist
        self.nominal: list[float] = []
        self.added: set[int] = set()
        self.variables: list[Variable] = []
        self.weights: list[tuple[int, int, float]] = []
        self.branches: dict[str, Branch] = {}
        self.what: dict[str, str] = {}
        self.ratios = side_ratios(netlist)

    def value(self, nominal: float, *, added: bool = False) -> int:
        """Add a value; return its column."""
        self.nominal.append(nominal)
        if added:
            self.added.add(len(self.nominal) - 1)
        return len(self.nominal) - 1

    def varies(self, part: str, mode: Mode, sigma: float, values: Mapping[int, float]) -> None:
        """Add a variable with its weight in some values."""
        self.variables.append(Variable(part, mode, sigma))
        at = len(self.variables) - 1
        self.weights += [(column, at, weight) for column, weight in values.items()]

    def one(self, part: str, mode: Mode, nominal: float, tolerance: float) -> int:
        """Add a value with a variable of its own; return its column."""
        column = self.value(nominal)
        self.varies(part, mode, tolerance / SIGMAS, {column: 1.0})
        return column

    def weight(self, nodes: tuple[str, str]) -> float:
        """Return how much an impedance between two nodes counts, seen from the terminals."""
        return 1.0 / max(self.ratios.get(node, 1.0) for node in nodes) ** 2


def network_of(netlist: NetlistTable, sections: tuple[SectionTable, ...] = ()) -> Network:
    """Return the network of a netlist; `sections` say where the levels of outputs are read."""
    build = Builder(netlist)
    copper = list(added_parts(build))
    cable = netlist.cable
    cable_column = build.one(CABLE, Mode.LEADS, cable.ohm, cable.ohm_tolerance)
    gain_column = build.one(STATION, Mode.SENSE, 1.0, cable.gain_tolerance)
    build.varies(CLIMATE, Mode.COPPER, cable.copper_tolerance / SIGMAS, dict.fromkeys(copper, 1.0))
    build.what |= {CABLE: CABLE_WORDS, STATION: STATION_WORDS}
    outputs = tuple(added_outputs(build, sections))
    weights = np.zeros((len(build.nominal), len(build.variables)))
    for column, at, weight in build.weights:
        weights[column, at] = weight
    branches = tuple(build.branches.values())
    return Network(
        branches,
        elimination_plan([branch.ends for branch in branches], TERMINAL, RETURN),
        np.array(build.nominal),
        np.isin(np.arange(len(build.nominal)), list(build.added)),
        weights,
        tuple(build.variables),
        cable_column,
        gain_column,
        outputs,
        build.what,
    )


def added_outputs(build: Builder, sections: tuple[SectionTable, ...]) -> Iterator[Output]:
    """Add what sounds in the sections; yield where its level is read."""
    names = list(build.branches)
    spans = {section.name: section for section in sections}
    for output in build.netlist.outputs:
        if output.section in spans:
            gain = build.value(0.0, added=True)
            build.varies(output.part, Mode.GAIN, 0.0, {gain: NEPER_DB})
            at_hz = level_frequencies(spans[output.section])
            yield Output(output.section, output.part, names.index(output.part), at_hz, gain)


def level_frequencies(section: SectionTable) -> tuple[float, ...]:
    """Return the frequencies at which a section's level is read."""
    return tuple(map(float, np.geomspace(section.from_hz, section.to_hz, LEVEL_POINTS)))


def side_ratios(netlist: NetlistTable) -> dict[str, float]:
    """Return the turns ratio by which a node lies behind a transformer, for those that do.

    Everything reached from a secondary without passing the return is on its side.
    """
    ratios: dict[str, float] = {}
    edges = [part.nodes for part in netlist.parts if not isinstance(part, TransformerTable)]
    for transformer in netlist.transformers:
        found, more = set[str](), {transformer.secondary}
        while more:
            found |= more
            more = {node for nodes in edges if found & set(nodes) for node in nodes}
            more -= found | {RETURN}
        ratios |= dict.fromkeys(found, transformer.turns_ratio)
    return ratios


def added_parts(build: Builder) -> Iterator[int]:
    """Add every part; yield the columns of what is copper."""
    netlist = build.netlist
    for part in netlist.parts:
        build.what[part.name] = part.what
    for resistor in netlist.resistors:
        add_resistor(build, resistor)
    for capacitor in netlist.capacitors:
        add_capacitor(build, capacitor)
    for coil in netlist.coils:
        yield add_coil(build, coil)
    for driver in netlist.drivers:
        yield add_driver(build, driver)
    for transformer in netlist.transformers:
        yield from add_transformer(build, transformer)
    for panel in netlist.panels:
        add_panel(build, panel)


def add_resistor(build: Builder, part: ResistorTable) -> None:
    """Add a resistor."""
    ohm = build.one(part.name, Mode.VALUE, part.ohm, part.tolerance)
    weight = build.weight(part.nodes)
    build.branches[part.name] = SeriesBranch(part.nodes, (ohm,), (1.0,), weight=weight)


def add_capacitor(build: Builder, part: CapacitorTable) -> None:
    """Add a capacitor with what stands in series with it."""
    farad = build.one(part.name, Mode.VALUE, part.farad, part.tolerance)
    ohm = build.one(part.name, Mode.JOINT, part.series_ohm, part.series_tolerance)
    build.varies(part.name, Mode.BRIDGE, 0.0, {ohm: 1.0, farad: -BRIDGE_STEEPNESS})
    weight = build.weight(part.nodes)
    build.branches[part.name] = SeriesBranch(
        part.nodes, (ohm,), (1.0,), capacitance=farad, weight=weight
    )


def add_coil(build: Builder, part: CoilTable) -> int:
    """Add a coil; return the column of its winding.

    Shorted turns take from the winding in proportion and from the inductance squared.
    """
    henry = build.one(part.name, Mode.VALUE, part.henry, part.tolerance)
    ohm = build.one(part.name, Mode.JOINT, part.winding_ohm, part.winding_tolerance)
    build.varies(part.name, Mode.TURNS, 0.0, {henry: 2.0, ohm: 1.0})
    build.varies(part.name, Mode.BRIDGE, 0.0, {henry: BRIDGE_STEEPNESS, ohm: 1.0})
    weight = build.weight(part.nodes)
    build.branches[part.name] = SeriesBranch(
        part.nodes, (ohm,), (1.0,), inductance=henry, weight=weight
    )
    return ohm


def add_driver(build: Builder, part: DriverTable) -> int:
    """Add a driver in its box; return the column of its wire."""
    name = part.name
    re = build.one(name, Mode.RE, part.re_ohm, part.re_tolerance)
    coil = build.one(name, Mode.COIL, part.coil_ohm_sn, part.coil_tolerance)
    exponent = build.value(part.coil_exponent, added=True)
    build.varies(name, Mode.EXPONENT, part.coil_exponent_spread, {exponent: 1.0})
    force = build.one(name, Mode.FORCE, part.force_factor_tm, part.force_factor_tolerance)
    mass = build.one(name, Mode.MASS, part.moving_mass_kg, part.moving_mass_tolerance)
    friction = build.one(name, Mode.FRICTION, part.friction_kg_s, part.friction_tolerance)
    stiffness = build.one(name, Mode.STIFFNESS, part.stiffness_n_m, part.stiffness_tolerance)
    shorted = build.value(0.0, added=True)
    build.varies(name, Mode.SHORTED, 0.0, {shorted: 1.0})
    box = None if part.box is None else add_box(build, name, part.box)
    columns = DriverColumns(re, coil, exponent, force, mass, friction, stiffness, shorted, box)
    build.branches[name] = DriverBranch(part.nodes, columns)
    return re


def box_name(driver: str) -> str:
    """Return what the box of a driver is called."""
    return f"{driver}'s box"


def add_box(build: Builder, driver: str, box: BoxTable) -> tuple[int, int, int]:
    """Add the air behind a driver; return its columns."""
    name = box_name(driver)
    build.what[name] = f"the box behind the {driver}"
    air = build.one(name, Mode.AIR, box.stiffness_n_m, box.stiffness_tolerance)
    mass = build.value(box.out_kg)
    if box.out_kg > 0.0:
        build.varies(name, Mode.VENT, box.out_tolerance / SIGMAS, {mass: 1.0})
    resistance = build.one(name, Mode.WAY_OUT, box.out_kg_s, box.out_tolerance)
    return air, mass, resistance


def add_transformer(build: Builder, part: TransformerTable) -> Iterator[int]:
    """Add a transformer, its secondary seen from the primary; yield the columns of its wire."""
    leakage = build.one(part.name, Mode.VALUE, part.leakage_h, part.leakage_tolerance)
    primary, secondary = build.value(part.primary_ohm), build.value(part.secondary_ohm)
    build.varies(
        part.name, Mode.WINDING, part.winding_tolerance / SIGMAS, {primary: 1.0, secondary: 1.0}
    )
    build.branches[part.name] = SeriesBranch(
        (part.nodes[0], part.secondary),
        (primary, secondary),
        (1.0, 1.0 / part.turns_ratio**2),
        inductance=leakage,
    )
    yield from (primary, secondary)


def add_panel(build: Builder, part: PanelTable) -> None:
    """Add a panel."""
    farad = build.one(part.name, Mode.VALUE, part.farad, part.tolerance)
    weight = build.weight(part.nodes)
    build.branches[part.name] = SeriesBranch(part.nodes, capacitance=farad, weight=weight)
