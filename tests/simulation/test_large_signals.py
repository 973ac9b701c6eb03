"""Panel and powered unit at large signals against scipy's solve_ivp, equations stepped in time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from station.simulation.conditions import Conditions
from station.simulation.physics.circuit import Circuit
from station.simulation.physics.drivers import Driver
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.panel import Panel
from station.simulation.physics.powered import Electronics, PoweredSpeaker
from station.simulation.physics.relaxation import Source
from station.simulation.physics.speaker import PassiveSpeaker
from station.simulation.products import fell60, scree12
from station.simulation.products.spread import Spread

RATE_HZ = 96000.0
SOURCE_OHM = 0.09
RAMP_S = 0.02

FloatArray = NDArray[np.float64]


def tone_v(time_s: FloatArray | float, rms_v: float, tone_hz: float) -> FloatArray:
    """Return a tone that fades in, so that nothing rings beyond the sampling rate."""
    ramp = np.sin(0.5 * np.pi * np.clip(np.asarray(time_s) / RAMP_S, 0.0, 1.0)) ** 2
    return np.asarray(np.sqrt(2.0) * rms_v * ramp * np.sin(2.0 * np.pi * tone_hz * time_s))


def harmonics(sound: FloatArray, tone_hz: float, orders: int) -> FloatArray:
    """Return amplitudes over the last whole cycles."""
    kept = sound[-round(round(0.04 * tone_hz) * RATE_HZ / tone_hz) :]
    turn = np.exp(-2j * np.pi * tone_hz * np.arange(kept.size) / RATE_HZ)
    return np.array([2 * abs(np.mean(kept * turn**order)) for order in range(1, orders + 1)])


def stepped_panel(
    parts: fell60.Parts, panel: Panel, time_s: FloatArray, rms_v: float
) -> FloatArray:
    """Return the sound of a Fell 60's panel alone, before its film's modes."""
    series_f = parts.panel_capacitor.capacitance_f or 0.0
    gap_f = parts.panel_capacitance.capacitance_f or 0.0
    coil, leakage, turns = parts.panel_coil, parts.leakage, fell60.TURNS_RATIO
    damper_ohm = parts.panel_resistor.resistance_ohm
    line_ohm = SOURCE_OHM + parts.panel_capacitor.resistance_ohm
    dipole_rad_s, rolloff_rad_s = 2 * np.pi * panel.dipole_hz, 2 * np.pi * panel.rolloff_hz

    def force_v(t: float, stators_v: float) -> float:
        charged = 1.0 - np.exp(-(panel.bias_on_s + t) / panel.charging_s)
        square = panel.unbalance_ratio * stators_v**2 / panel.bias_v
        cube = panel.residue_ratio * panel.bias_ratio * stators_v**3 / panel.bias_v**2
        return float(panel.bias_ratio * charged * stators_v + square + cube)

    def derivative(t: float, state: FloatArray) -> list[float]:
        series_v, coil_a, leak_a, stators_v, slow_v, sound_v = state
        drive_v = float(tone_v(t, rms_v, 1000.0))
        # the node behind the series capacitor: what comes in leaves through coil, damper, leakage
        node_v = ((drive_v - series_v) / line_ohm - coil_a - leak_a) / (
            1.0 / line_ohm + 1.0 / damper_ohm
        )
        line_a = (drive_v - series_v - node_v) / line_ohm
        primary_v = stators_v / turns + parts.secondary.resistance_ohm * leak_a / turns**2
        forced_v = force_v(t, stators_v)
        return [
            line_a / series_f,
            (node_v - coil.resistance_ohm * coil_a) / coil.inductance_h,
            (node_v - leakage.resistance_ohm * leak_a - primary_v) / leakage.inductance_h,
            leak_a / turns / gap_f,
            dipole_rad_s * (forced_v - slow_v),  # forced minus slow is the dipole's high-pass
            rolloff_rad_s * (forced_v - slow_v - sound_v),
        ]

    answer = solve_ivp(
        derivative, (0.0, time_s[-1]), np.zeros(6), "LSODA", time_s, rtol=1e-8, atol=1e-10
    )
    return np.asarray(panel.pressure_pa_v * answer.y[5])


@pytest.mark.parametrize("bias_on_s", [np.inf, 0.05], ids=["settled", "building up"])
def test_a_driven_panel_agrees_with_stepping_in_time(bias_on_s: float) -> None:
    grid = TimeGrid(9600, RATE_HZ)
    time_s = np.arange(9600) / RATE_HZ
    spread = Spread("F6A00001", 7)
    parts = fell60.produced(spread)
    whole = fell60.fell60(spread, {}, Conditions(bias_on_s=bias_on_s))
    (branch,) = (one for one in whole.circuit.branches if one.name == "panel")
    # far more square and cube than a real panel has, and a quick charge, so that errors show
    panel = replace(
        whole.panels[0], modes=(), unbalance_ratio=0.4, residue_ratio=0.5, charging_s=0.1
    )
    speaker = PassiveSpeaker("panel", Circuit((branch,)), (), (panel,))
    source = Source(
        grid.spectrum(tone_v(time_s, 4.0, 1000.0)), np.full(grid.s.shape, SOURCE_OHM + 0j)
    )
    found = grid.signal(speaker.play(source, grid, np.random.default_rng(1)).front_pa)
    truth = stepped_panel(parts, panel, time_s, 4.0)
    edge = 400  # the tone's end rings before it
    assert np.max(np.abs(found - truth)[:-edge]) < 2e-4 * np.max(np.abs(truth))
    levels = harmonics(truth[:-edge], 1000.0, 3)
    assert levels[1] > 0.005 * levels[0]  # there is something to compare
    assert levels[2] > 0.001 * levels[0]
    # 0.5 %, 0.04 dB, of each harmonic
    np.testing.assert_allclose(harmonics(found[:-edge], 1000.0, 3), levels, rtol=5e-3)


def powered(rms_v: float) -> tuple[PoweredSpeaker, Driver, Electronics]:
    """Return a Scree 12 without noise, whose coil is a plain inductance, radiating plainly.

    Its box leaks faster than a real one: the creep of half a second with which a tight box gives
    way to a cone pushed off its rest does not end within the padding, and moves H2 by up to 0.4 dB.
    """
    parts = scree12.produced(Spread("S12A00001", 7))
    driver = replace(parts.woofer.driver, coil_ohm_sn=1.2e-3, coil_exponent=1.0, box_leak_s=0.02)
    radiator = replace(parts.woofer.radiator, modes=(), rolloff_hz=1e7, baffle_step_hz=1e7)
    woofer = replace(parts.woofer, driver=driver, radiator=radiator)
    electronics = replace(parts.electronics, noise_v=0.0, hum_v=())
    circuit = Circuit((woofer.branch((scree12.AMPLIFIER_OUTPUT,)),))
    speaker = PassiveSpeaker("Scree 12", circuit, (woofer.cone,))
    return PoweredSpeaker("Scree 12", electronics, speaker), driver, electronics


def stepped_bass(
    driver: Driver, box: Electronics, time_s: FloatArray, rms_v: float
) -> tuple[FloatArray, FloatArray]:
    """Return acceleration of the cone and the amplifier's output."""
    slow, fast = 2 * np.pi * box.subsonic_hz, 2 * np.pi * box.lowpass_hz
    (q1, q2), curves = box.lowpass_q_ratios, driver.curves

    def amplified_v(signal_v: float) -> float:
        return float(signal_v / (1.0 + abs(signal_v / box.peak_v) ** 6) ** (1.0 / 6.0))

    def derivative(t: float, state: FloatArray) -> list[float]:
        a, a1, b, b1, c, c1, i_a, x_m, v_m_s, leak_m = state
        drive_v = float(tone_v(t, rms_v, 45.0))
        high_v = drive_v - slow / box.subsonic_q_ratio * a1 - slow**2 * a  # s²/(s² + s·w/Q + w²)
        amplifier_v = amplified_v(box.gain_ratio * c)
        bl = driver.force_factor_tm * np.exp(
            -x_m * (curves.force_slope_per_m + curves.force_curve_per_m2 * x_m)
        )
        bl *= 1.0 + i_a * (curves.current_slope_per_a - curves.current_curve_per_a2 * i_a)
        stretched = 1.0 + x_m * (curves.stiffness_slope_per_m + curves.stiffness_curve_per_m2 * x_m)
        bent = np.tanh(x_m / curves.coil_reach_m)
        inductance = driver.coil_ohm_sn * (1.0 - curves.coil_depth_ratio * bent)
        gradient = -driver.coil_ohm_sn * curves.coil_depth_ratio / curves.coil_reach_m
        gradient *= 1.0 - bent**2
        loop_v = amplifier_v - (driver.resistance_ohm + 0.03) * i_a - bl * v_m_s
        force_n = bl * i_a - driver.friction_kg_s * v_m_s - driver.stiffness_n_m * stretched * x_m
        force_n += 0.5 * i_a**2 * gradient - driver.box_stiffness_n_m * (x_m - leak_m)
        return [
            a1,
            high_v,
            b1,
            fast**2 * (high_v - b) - fast / q1 * b1,
            c1,
            fast**2 * (b - c) - fast / q2 * c1,
            (loop_v - gradient * v_m_s * i_a) / inductance,
            v_m_s,
            force_n / driver.moving_mass_kg,
            (x_m - leak_m) / driver.box_leak_s,
        ]

    answer = solve_ivp(
        derivative, (0.0, time_s[-1]), np.zeros(10), "LSODA", time_s, rtol=1e-9, atol=1e-11
    )
    columns = zip(time_s, answer.y.T, strict=True)
    acceleration = np.array([derivative(float(t), state)[8] for t, state in columns])
    return acceleration, np.array([amplified_v(box.gain_ratio * c) for c in answer.y[4]])


@pytest.mark.parametrize("rms_v", [0.5, 1.4])
def test_a_driven_bass_unit_agrees_with_stepping_in_time(rms_v: float) -> None:
    n = 19200
    grid, time_s = TimeGrid(n, RATE_HZ), np.arange(n) / RATE_HZ
    unit, driver, electronics = powered(rms_v)
    source = Source(grid.spectrum(tone_v(time_s, rms_v, 45.0)), np.zeros_like(grid.s))
    found = grid.signal(unit.play(source, grid, np.random.default_rng(1)).front_pa)
    acceleration, output_v = stepped_bass(driver, electronics, time_s, rms_v)
    # a point source into the full sphere, 1 m away: rho·Sd·a/(4π)
    truth = 1.204 * scree12.WOOFER_AREA_M2 / (4 * np.pi) * acceleration
    edge = 960
    assert np.max(np.abs(found - truth)[:-edge]) < 3e-5 * np.max(np.abs(truth))
    levels = harmonics(truth[:-edge], 45.0, 3)
    np.testing.assert_allclose(harmonics(found[:-edge], 45.0, 3), levels, rtol=2e-4)
    if rms_v > 1.0:  # the limiter is at work
        assert np.max(np.abs(output_v)) > 0.6 * electronics.peak_v
