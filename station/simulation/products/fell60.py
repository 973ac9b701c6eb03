"""Fell 60: a curved electrostatic panel behind a step-up transformer, over a 250 mm cone woofer.

All values are ours; crossover second order near 400 Hz. The panel's capacitance, reflected by
the turns ratio squared, resonates with the transformer's leakage inductance between 20 and
25 kHz: there |Z| has its minimum, and above it turns inductive.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import FELL
from station.simulation.physics.circuit import Branch, Circuit
from station.simulation.physics.directivity import Arc
from station.simulation.physics.drivers import Curves, Driver
from station.simulation.physics.networks import (
    CrossedLeads,
    Element,
    Part,
    Transformer,
    opened,
)
from station.simulation.physics.panel import Panel
from station.simulation.physics.radiation import Mode, Radiator, box_stiffness_n_m
from station.simulation.physics.speaker import PassiveSpeaker
from station.simulation.physics.warmth import warmth_at
from station.simulation.products.crossover import crossover_changes
from station.simulation.products.spread import Spread, spread_panel, spread_part
from station.simulation.products.woofer import WOOFER_CHANGES, Woofer, spread_woofer, warmed_woofer

WOOFER_AREA_M2 = 330e-4
BOX_M3 = 45e-3
TURNS_RATIO = 75.0


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of one Fell 60."""

    woofer: Woofer
    panel: Panel
    panel_crossed: bool
    panel_connected: bool
    panel_capacitance: Part
    secondary: Part
    leakage: Part  # with the primary's resistance
    woofer_coil: Part
    woofer_capacitor: Part
    panel_capacitor: Part
    panel_coil: Part
    panel_resistor: Part


NOMINAL = Parts(
    woofer=Woofer(
        driver=Driver(
            resistance_ohm=5.0,
            coil_ohm_sn=6e-3,
            coil_exponent=0.7,
            force_factor_tm=10.0,
            moving_mass_kg=50e-3,
            friction_kg_s=1.8,
            stiffness_n_m=1550.0,
            box_stiffness_n_m=box_stiffness_n_m(BOX_M3, WOOFER_AREA_M2),
            box_leak_s=0.5,
            curves=Curves(
                force_slope_per_m=5.0,
                force_curve_per_m2=5e3,
                stiffness_slope_per_m=20.0,
                stiffness_curve_per_m2=2e4,
                coil_depth_ratio=0.25,
                coil_reach_m=6e-3,
                current_slope_per_a=0.005,
                current_curve_per_a2=0.008,
            ),
            linear_above_hz=6e3,
        ),
        radiator=Radiator(
            area_m2=WOOFER_AREA_M2,
            baffle_step_hz=230.0,
            rolloff_hz=2500.0,
            rolloff_q_ratio=0.8,
            modes=(Mode(1900.0, 0.3, 3.0),),
            shade_hz=400.0,
        ),
        loud_m=1.4e-3,
        loud_m_s2=145.0,
        loose_part_hz=160.0,
    ),
    panel=Panel(
        branch="panel",
        pressure_pa_v=2.73e-3,
        bias_v=3000.0,
        bias_ratio=1.0,
        unbalance_ratio=0.05,
        residue_ratio=0.03,
        dipole_hz=250.0,
        modes=(Mode(1300.0, -0.05, 2.0), Mode(3600.0, 0.05, 2.0), Mode(9000.0, 0.06, 2.5)),
        rolloff_hz=28000.0,
        arc=Arc(opening_deg=60.0, length_m=0.3),
        charging_s=4.0,
        loud_v=450.0,
    ),
    panel_crossed=False,
    panel_connected=True,
    panel_capacitance=Part("shunt", capacitance_f=1.0e-9),
    secondary=Part("series", resistance_ohm=4500.0),
    leakage=Part("series", resistance_ohm=1.1, inductance_h=9.2e-6),
    woofer_coil=Part("series", resistance_ohm=0.3, inductance_h=2.4e-3),
    woofer_capacitor=Part("shunt", resistance_ohm=0.6, capacitance_f=71e-6),
    panel_capacitor=Part("series", resistance_ohm=0.1, capacitance_f=37e-6),
    panel_coil=Part("shunt", resistance_ohm=0.2, inductance_h=2.75e-3),
    panel_resistor=Part("shunt", resistance_ohm=14.0),
)


def produced(spread: Spread) -> Parts:
    """Return the parts of one produced unit."""
    nominal = NOMINAL
    return replace(
        nominal,
        woofer=spread_woofer(nominal.woofer, spread),
        panel=spread_panel(nominal.panel, spread),
        panel_capacitance=spread_part(nominal.panel_capacitance, spread, "panel gap", 0.04),
        secondary=spread_part(nominal.secondary, spread, "secondary", 0.05),
        leakage=spread_part(nominal.leakage, spread, "leakage", 0.05),
        woofer_coil=spread_part(nominal.woofer_coil, spread, "woofer coil", 0.03),
        woofer_capacitor=spread_part(nominal.woofer_capacitor, spread, "woofer capacitor", 0.05),
        panel_capacitor=spread_part(nominal.panel_capacitor, spread, "panel capacitor", 0.05),
        panel_coil=spread_part(nominal.panel_coil, spread, "panel coil", 0.03),
        panel_resistor=spread_part(nominal.panel_resistor, spread, "panel resistor", 0.05),
    )


def warmed(parts: Parts, temperature_c: float) -> Parts:
    """Return the parts at a temperature."""
    warmth = warmth_at(temperature_c)
    return replace(
        parts,
        woofer=warmed_woofer(parts.woofer, warmth),
        panel=warmth.panel(parts.panel),
        secondary=warmth.wound(parts.secondary),
        leakage=warmth.wound(parts.leakage),
        woofer_coil=warmth.wound(parts.woofer_coil),
        woofer_capacitor=warmth.capacitor(parts.woofer_capacitor),
        panel_capacitor=warmth.capacitor(parts.panel_capacitor),
        panel_coil=warmth.wound(parts.panel_coil),
    )


def with_panel(parts: Parts, *, bias_ratio: float) -> Parts:
    """Return the parts with a share of the nominal bias."""
    return replace(parts, panel=replace(parts.panel, bias_ratio=bias_ratio))


def arcing(parts: Parts, peak_db_spl: float) -> Parts:
    """Return the parts with a panel that arcs."""
    return replace(parts, panel=replace(parts.panel, arc_db_spl=peak_db_spl))


CHANGES: Mapping[str, Callable[[Parts, float], Parts]] = {
    "reversed_panel": lambda parts, _: replace(parts, panel_crossed=not parts.panel_crossed),
    "dead_panel": lambda parts, _: replace(parts, panel_connected=False),
    "missing_bias": lambda parts, _: with_panel(parts, bias_ratio=0.0),
    "low_bias": lambda parts, lost: with_panel(
        parts, bias_ratio=parts.panel.bias_ratio * (1.0 - lost)
    ),
    "panel_arcing": arcing,
    **crossover_changes("panel", Parts),
}


def changed(parts: Parts, name: str, severity: float) -> Parts:
    """Return the parts with one fault put in; raise KeyError for a fault that is not theirs."""
    if name in WOOFER_CHANGES:
        return replace(parts, woofer=WOOFER_CHANGES[name](parts.woofer, severity))
    return CHANGES[name](parts, severity)


def fell60(
    spread: Spread, faults: Mapping[str, float], conditions: Conditions = USUAL
) -> PassiveSpeaker:
    """Return one Fell 60 with faults of the unit put in."""
    parts = produced(spread)
    for name, severity in faults.items():
        parts = changed(parts, name, severity)
    parts = warmed(parts, conditions.temperature_c)
    wiring: tuple[Element, ...] = (CrossedLeads(),) if parts.panel_crossed else ()
    secondary = parts.secondary if parts.panel_connected else opened(parts.secondary)
    panel = Branch(
        "panel",
        (
            parts.panel_capacitor,
            parts.panel_coil,
            parts.panel_resistor,
            *wiring,
            parts.leakage,
            Transformer(TURNS_RATIO),
            secondary,
        ),
        parts.panel_capacitance,
    )
    woofer = parts.woofer.branch((parts.woofer_coil, parts.woofer_capacitor))
    return PassiveSpeaker(
        FELL,
        Circuit((woofer, panel)),
        (parts.woofer.cone,),
        (replace(parts.panel, bias_on_s=conditions.bias_on_s),),
        conditions.angle_deg,
    )
