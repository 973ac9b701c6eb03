"""Scree 12: a powered bass unit, 300 mm woofer in a closed box with filters and an amplifier.

All values are ours. Line level in; its terminals show the input's resistance and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from station.simulation.conditions import USUAL, Conditions
from station.simulation.faults import SCREE
from station.simulation.physics.circuit import Circuit
from station.simulation.physics.drivers import Curves, Driver
from station.simulation.physics.networks import Part
from station.simulation.physics.powered import Electronics, PoweredSpeaker
from station.simulation.physics.radiation import Mode, Radiator, box_stiffness_n_m
from station.simulation.physics.speaker import PassiveSpeaker
from station.simulation.physics.warmth import warmth_at
from station.simulation.products.spread import Spread
from station.simulation.products.woofer import WOOFER_CHANGES, Woofer, spread_woofer, warmed_woofer

WOOFER_AREA_M2 = 500e-4
BOX_M3 = 50e-3
AMPLIFIER_OUTPUT = Part("series", resistance_ohm=0.03)


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of one Scree 12."""

    woofer: Woofer
    electronics: Electronics


NOMINAL = Parts(
    woofer=Woofer(
        driver=Driver(
            resistance_ohm=3.4,
            coil_ohm_sn=12e-3,
            coil_exponent=0.7,
            force_factor_tm=15.0,
            moving_mass_kg=0.13,
            friction_kg_s=4.0,
            stiffness_n_m=4000.0,
            box_stiffness_n_m=box_stiffness_n_m(BOX_M3, WOOFER_AREA_M2),
            box_leak_s=0.5,
            curves=Curves(
                force_slope_per_m=3.0,
                force_curve_per_m2=2.5e3,
                stiffness_slope_per_m=12.0,
                stiffness_curve_per_m2=7e3,
                coil_depth_ratio=0.3,
                coil_reach_m=10e-3,
                current_slope_per_a=0.0015,
                current_curve_per_a2=0.0005,
            ),
            linear_above_hz=3e3,
        ),
        radiator=Radiator(
            area_m2=WOOFER_AREA_M2,
            baffle_step_hz=230.0,
            rolloff_hz=900.0,
            rolloff_q_ratio=0.8,
            modes=(Mode(700.0, 0.4, 4.0),),
            shade_hz=300.0,
        ),
        loud_m=3.1e-3,
        loud_m_s2=136.0,
        loose_part_hz=75.0,
    ),
    electronics=Electronics(
        input_ohm=20e3,
        input_f=220e-12,
        gain_ratio=14.0,
        subsonic_hz=18.0,
        subsonic_q_ratio=0.8,
        lowpass_hz=90.0,
        lowpass_q_ratios=(0.707, 0.707),
        peak_v=35.0,
        noise_v=1e-3,
        hum_v=(0.5e-3, 2e-3, 0.5e-3, 1e-3),
        mains_hz=50.0,
    ),
)


def produced(spread: Spread) -> Parts:
    """Return the parts of one produced unit."""
    electronics = NOMINAL.electronics
    return Parts(
        spread_woofer(NOMINAL.woofer, spread),
        replace(
            electronics,
            input_ohm=electronics.input_ohm * spread.factor("input resistor", 0.02),
            gain_ratio=electronics.gain_ratio * spread.factor("gain", 0.04),
            subsonic_hz=electronics.subsonic_hz * spread.factor("subsonic filter", 0.05),
            lowpass_hz=electronics.lowpass_hz * spread.factor("low-pass filter", 0.04),
            noise_v=electronics.noise_v * spread.factor("amplifier noise", 0.3),
            hum_v=tuple(hum_v * spread.factor("hum", 0.4) for hum_v in electronics.hum_v),
        ),
    )


def wrong_filter(parts: Parts, corner_ratio: float) -> Parts:
    """Return the parts with the low-pass set to another corner."""
    corner_hz = parts.electronics.lowpass_hz * corner_ratio
    return replace(parts, electronics=replace(parts.electronics, lowpass_hz=corner_hz))


def noisy(parts: Parts, more_db: float) -> Parts:
    """Return the parts with a noisier amplifier."""
    more = 10.0 ** (more_db / 20.0)
    electronics = parts.electronics
    louder = replace(
        electronics,
        noise_v=electronics.noise_v * more,
        hum_v=tuple(hum_v * more for hum_v in electronics.hum_v),
    )
    return replace(parts, electronics=louder)


CHANGES: Mapping[str, Callable[[Parts, float], Parts]] = {
    "wrong_filter_setting": wrong_filter,
    "noisy_amplifier": noisy,
}


def changed(parts: Parts, name: str, severity: float) -> Parts:
    """Return the parts with one fault put in; raise KeyError for a fault that is not theirs."""
    if name in WOOFER_CHANGES:
        return replace(parts, woofer=WOOFER_CHANGES[name](parts.woofer, severity))
    return CHANGES[name](parts, severity)


def scree12(
    spread: Spread, faults: Mapping[str, float], conditions: Conditions = USUAL
) -> PoweredSpeaker:
    """Return one Scree 12 with faults of the unit put in."""
    parts = produced(spread)
    for name, severity in faults.items():
        parts = changed(parts, name, severity)
    woofer = warmed_woofer(parts.woofer, warmth_at(conditions.temperature_c))
    circuit = Circuit((woofer.branch((AMPLIFIER_OUTPUT,)),))
    return PoweredSpeaker(
        SCREE,
        parts.electronics,
        PassiveSpeaker(SCREE, circuit, (woofer.cone,), angle_deg=conditions.angle_deg),
    )
