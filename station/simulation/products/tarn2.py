"""Tarn 2: a passive two-way speaker, 165 mm woofer in a closed box under a dome tweeter.

All values are ours; crossover second order, acoustic crossing near 2.4 kHz, rated 6 Ω.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import TARN
from station.simulation.physics.circuit import Branch, Circuit
from station.simulation.physics.drivers import Curves, Driver
from station.simulation.physics.networks import CrossedLeads, Part
from station.simulation.physics.radiation import Mode, Radiator, box_stiffness_n_m
from station.simulation.physics.speaker import Cone, PassiveSpeaker
from station.simulation.physics.warmth import warmth_at
from station.simulation.products.crossover import crossover_changes
from station.simulation.products.spread import Spread, spread_driver, spread_part, spread_radiator
from station.simulation.products.woofer import WOOFER_CHANGES, Woofer, spread_woofer, warmed_woofer

WOOFER_AREA_M2, TWEETER_AREA_M2 = 132e-4, 7.5e-4
BOX_M3 = 20e-3


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of one Tarn 2."""

    woofer: Woofer
    tweeter: Driver
    tweeter_radiator: Radiator
    tweeter_crossed: bool
    woofer_coil: Part
    woofer_capacitor: Part
    tweeter_capacitor: Part
    tweeter_coil: Part
    tweeter_resistor: Part


NOMINAL = Parts(
    woofer=Woofer(
        driver=Driver(
            resistance_ohm=5.0,
            coil_ohm_sn=4.5e-3,
            coil_exponent=0.68,
            force_factor_tm=7.0,
            moving_mass_kg=16.5e-3,
            friction_kg_s=1.3,
            stiffness_n_m=830.0,
            box_stiffness_n_m=box_stiffness_n_m(BOX_M3, WOOFER_AREA_M2),
            box_leak_s=0.5,
            curves=Curves(
                force_slope_per_m=8.0,
                force_curve_per_m2=1.2e4,
                stiffness_slope_per_m=25.0,
                stiffness_curve_per_m2=3e4,
                coil_depth_ratio=0.25,
                coil_reach_m=4e-3,
                current_slope_per_a=0.006,
                current_curve_per_a2=0.012,
            ),
            linear_above_hz=12e3,
        ),
        radiator=Radiator(
            area_m2=WOOFER_AREA_M2,
            baffle_step_hz=350.0,
            rolloff_hz=5200.0,
            rolloff_q_ratio=0.8,
            modes=(Mode(4300.0, 0.2, 2.2), Mode(900.0, -0.06, 3.0)),
            shade_hz=500.0,
        ),
        loud_m=2.1e-3,
        loud_m_s2=280.0,
        loose_part_hz=210.0,
    ),
    tweeter=Driver(
        resistance_ohm=5.0,
        coil_ohm_sn=0.35e-3,
        coil_exponent=0.65,
        force_factor_tm=3.0,
        moving_mass_kg=0.35e-3,
        friction_kg_s=0.9,
        stiffness_n_m=8845.0,
        box_stiffness_n_m=0.0,
        box_leak_s=0.5,
        curves=Curves(
            force_slope_per_m=150.0,
            force_curve_per_m2=2e5,
            stiffness_slope_per_m=400.0,
            stiffness_curve_per_m2=2e6,
            coil_depth_ratio=0.1,
            coil_reach_m=0.5e-3,
            current_slope_per_a=0.008,
            current_curve_per_a2=0.015,
        ),
        linear_above_hz=24e3,
    ),
    tweeter_radiator=Radiator(
        area_m2=TWEETER_AREA_M2,
        baffle_step_hz=350.0,
        rolloff_hz=27000.0,
        rolloff_q_ratio=1.3,
        modes=(Mode(9000.0, 0.05, 2.0), Mode(14000.0, -0.05, 3.0)),
        shade_hz=500.0,
    ),
    tweeter_crossed=False,
    woofer_coil=Part("series", resistance_ohm=0.25, inductance_h=0.66e-3),
    woofer_capacitor=Part("shunt", resistance_ohm=0.8, capacitance_f=12e-6),
    tweeter_capacitor=Part("series", resistance_ohm=0.05, capacitance_f=4.7e-6),
    tweeter_coil=Part("shunt", resistance_ohm=0.8, inductance_h=0.48e-3),
    tweeter_resistor=Part("series", resistance_ohm=5.05),
)


def produced(spread: Spread) -> Parts:
    """Return the parts of one produced unit."""
    nominal = NOMINAL
    return replace(
        nominal,
        woofer=spread_woofer(nominal.woofer, spread),
        tweeter=spread_driver(nominal.tweeter, spread, "tweeter"),
        tweeter_radiator=spread_radiator(nominal.tweeter_radiator, spread, "tweeter"),
        woofer_coil=spread_part(nominal.woofer_coil, spread, "woofer coil", 0.03),
        woofer_capacitor=spread_part(nominal.woofer_capacitor, spread, "woofer capacitor", 0.05),
        tweeter_capacitor=spread_part(nominal.tweeter_capacitor, spread, "tweeter capacitor", 0.05),
        tweeter_coil=spread_part(nominal.tweeter_coil, spread, "tweeter coil", 0.03),
        tweeter_resistor=spread_part(nominal.tweeter_resistor, spread, "tweeter resistor", 0.05),
    )


def warmed(parts: Parts, temperature_c: float) -> Parts:
    """Return the parts at a temperature."""
    warmth = warmth_at(temperature_c)
    return replace(
        parts,
        woofer=warmed_woofer(parts.woofer, warmth),
        tweeter=warmth.driver(parts.tweeter),
        tweeter_radiator=warmth.radiator(parts.tweeter_radiator),
        woofer_coil=warmth.wound(parts.woofer_coil),
        woofer_capacitor=warmth.capacitor(parts.woofer_capacitor),
        tweeter_capacitor=warmth.capacitor(parts.tweeter_capacitor),
        tweeter_coil=warmth.wound(parts.tweeter_coil),
    )


CHANGES: Mapping[str, Callable[[Parts, float], Parts]] = {
    "reversed_tweeter": lambda parts, _: replace(parts, tweeter_crossed=not parts.tweeter_crossed),
    "dead_tweeter": lambda parts, _: replace(parts, tweeter=replace(parts.tweeter, coil_open=True)),
    **crossover_changes("tweeter", Parts),
}


def changed(parts: Parts, name: str, severity: float) -> Parts:
    """Return the parts with one fault put in; raise KeyError for a fault that is not theirs."""
    if name in WOOFER_CHANGES:
        return replace(parts, woofer=WOOFER_CHANGES[name](parts.woofer, severity))
    return CHANGES[name](parts, severity)


def tarn2(
    spread: Spread, faults: Mapping[str, float], conditions: Conditions = USUAL
) -> PassiveSpeaker:
    """Return one Tarn 2 with faults of the unit put in."""
    parts = produced(spread)
    for name, severity in faults.items():
        parts = changed(parts, name, severity)
    parts = warmed(parts, conditions.temperature_c)
    wiring = (CrossedLeads(),) if parts.tweeter_crossed else ()
    woofer = parts.woofer.branch((parts.woofer_coil, parts.woofer_capacitor))
    tweeter = Branch(
        "tweeter",
        (parts.tweeter_capacitor, parts.tweeter_coil, parts.tweeter_resistor, *wiring),
        parts.tweeter,
    )
    return PassiveSpeaker(
        TARN,
        Circuit((woofer, tweeter)),
        (parts.woofer.cone, Cone("tweeter", parts.tweeter_radiator)),
        angle_deg=conditions.angle_deg,
    )
