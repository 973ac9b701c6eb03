"""Large signals against scipy's solve_ivp on the same equations, stepped in time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from station.errors import StationFaultError
from station.simulation.physics.circuit import Branch, Circuit
from station.simulation.physics.drivers import Curves, Driver
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.networks import Part
from station.simulation.physics.relaxation import Solution, Source, solution_of

RATE_HZ = 48000.0
DURATION_S = 0.25
TONE_HZ = 60.0
RAMP_S = 0.05
SOURCE_OHM = 0.09
COIL_H, CAPACITOR_F = 0.9e-3, 12e-6

CURVES = Curves(
    force_slope_per_m=12.0,
    force_curve_per_m2=1.2e4,
    stiffness_slope_per_m=30.0,
    stiffness_curve_per_m2=3e4,
    coil_depth_ratio=0.25,
    coil_reach_m=4e-3,
    current_slope_per_a=6e-3,
    current_curve_per_a2=1.2e-2,
)
DRIVER = Driver(
    resistance_ohm=5.0,
    coil_ohm_sn=0.4e-3,  # exponent 1: an inductance, which an ordinary equation can hold
    coil_exponent=1.0,
    force_factor_tm=7.0,
    moving_mass_kg=16.5e-3,
    friction_kg_s=1.3,
    stiffness_n_m=2060.0,
    box_stiffness_n_m=0.0,
    box_leak_s=1.0,
    curves=CURVES,
    linear_above_hz=12e3,
)
FloatArray = NDArray[np.float64]


def tone_v(time_s: FloatArray, rms_v: float) -> FloatArray:
    ramp = np.sin(0.5 * np.pi * np.clip(time_s / RAMP_S, 0.0, 1.0)) ** 2
    return np.sqrt(2.0) * rms_v * ramp * np.sin(2.0 * np.pi * TONE_HZ * time_s)


def derivatives(i_a: float, x_m: float, v_m_s: float, coil_v: float) -> tuple[float, float, float]:
    """Return di/dt, dx/dt, dv/dt of DRIVER with a voltage across it."""
    bl = 7.0 * np.exp(-12.0 * x_m - 1.2e4 * x_m**2) * (1.0 + 6e-3 * i_a - 1.2e-2 * i_a**2)
    stiffness = 2060.0 * (1.0 + 30.0 * x_m + 3e4 * x_m**2)
    inductance = 0.4e-3 * (1.0 - 0.25 * np.tanh(x_m / 4e-3))
    gradient = -0.4e-3 * 0.25 / 4e-3 / np.cosh(x_m / 4e-3) ** 2
    di = (coil_v - 5.0 * i_a - bl * v_m_s - gradient * v_m_s * i_a) / inductance
    dv = (bl * i_a - 1.3 * v_m_s - stiffness * x_m + 0.5 * i_a**2 * gradient) / 16.5e-3
    return di, v_m_s, dv


def stepped(rms_v: float, *, crossover: bool) -> dict[str, FloatArray]:
    time_s = np.arange(round(DURATION_S * RATE_HZ)) / RATE_HZ

    def alone(t: float, state: FloatArray) -> list[float]:
        i_a, x_m, v_m_s = state
        coil_v = float(tone_v(np.array([t]), rms_v)[0]) - SOURCE_OHM * i_a
        return list(derivatives(i_a, x_m, v_m_s, coil_v))

    def behind(t: float, state: FloatArray) -> list[float]:
        i_a, x_m, v_m_s, line_a, across_v = state
        drive_v = float(tone_v(np.array([t]), rms_v)[0])
        line = (drive_v - (SOURCE_OHM + 0.25) * line_a - across_v) / COIL_H
        return [*derivatives(i_a, x_m, v_m_s, across_v), line, (line_a - i_a) / CAPACITOR_F]

    answer = solve_ivp(
        behind if crossover else alone,
        (0.0, time_s[-1]),
        np.zeros(5 if crossover else 3),
        method="LSODA",
        t_eval=time_s,
        rtol=1e-8,
        atol=1e-11,
    )
    drive_v = tone_v(time_s, rms_v)
    current_a = answer.y[3] if crossover else answer.y[0]
    return {
        "excursion": answer.y[1],
        "coil current": answer.y[0],
        "current": current_a,
        "terminal": drive_v - SOURCE_OHM * current_a,
    }


def relaxed(rms_v: float, *, crossover: bool) -> dict[str, FloatArray]:
    grid = TimeGrid(round(DURATION_S * RATE_HZ), RATE_HZ)
    chain = (
        (
            Part("series", resistance_ohm=0.25, inductance_h=COIL_H),
            Part("shunt", capacitance_f=CAPACITOR_F),
        )
        if crossover
        else ()
    )
    circuit = Circuit((Branch("cone", chain, DRIVER),)).at(grid.s)
    time_s = np.arange(grid.n_samples) / RATE_HZ
    source = Source(grid.spectrum(tone_v(time_s, rms_v)), np.full(grid.s.shape, SOURCE_OHM + 0j))
    solution: Solution = solution_of(circuit, source, grid)
    load = solution.loads["cone"]
    assert load.excursion_m is not None
    return {
        "excursion": grid.signal(load.excursion_m),
        "coil current": grid.signal(load.current_a),
        "current": grid.signal(solution.current_a),
        "terminal": grid.signal(solution.terminal_v),
    }


def harmonics(signal: FloatArray) -> FloatArray:
    """Return amplitudes of orders 1 to 4 over whole cycles of the settled tone."""
    cycles = signal[-round(6 * RATE_HZ / TONE_HZ) :]
    time_s = np.arange(cycles.size) / RATE_HZ
    return np.array(
        [
            2 * abs(np.mean(cycles * np.exp(-2j * np.pi * order * TONE_HZ * time_s)))
            for order in (1, 2, 3, 4)
        ]
    )


@pytest.mark.parametrize("crossover", [False, True], ids=["driver alone", "behind a crossover"])
@pytest.mark.parametrize("rms_v", [2.83, 6.0])
def test_large_signal_waveforms_agree_with_stepping_in_time(
    rms_v: float, *, crossover: bool
) -> None:
    truth, found = stepped(rms_v, crossover=crossover), relaxed(rms_v, crossover=crossover)
    edge = round(0.002 * RATE_HZ)  # the cut-off of the tone rings a little to both sides
    for name, waveform in truth.items():
        worst = np.max(np.abs(found[name] - waveform)[:-edge])
        assert worst < 1e-4 * np.max(np.abs(waveform)), name


@pytest.mark.parametrize("rms_v", [2.83, 6.0])
def test_harmonics_agree_with_stepping_in_time(rms_v: float) -> None:
    truth = harmonics(stepped(rms_v, crossover=False)["excursion"])
    found = harmonics(relaxed(rms_v, crossover=False)["excursion"])
    assert truth[1] / truth[0] > 1e-3  # there is something to compare
    assert truth[2] / truth[0] > 1e-3
    np.testing.assert_allclose(found[:3], truth[:3], rtol=0.003)  # 0.03 dB


def test_straight_curves_leave_a_linear_driver() -> None:
    grid = TimeGrid(12000, RATE_HZ)
    straight = replace(DRIVER, curves=Curves(0.0, 0.0, 0.0, 0.0, 0.0, 1e-3, 0.0, 0.0))
    circuit = Circuit((Branch("cone", (), straight),)).at(grid.s)
    drive = grid.spectrum(tone_v(np.arange(12000) / RATE_HZ, 2.83))
    solution = solution_of(circuit, Source(drive, np.zeros_like(drive)), grid)
    np.testing.assert_allclose(
        solution.current_a, drive * circuit.admittance_s, rtol=1e-9, atol=1e-12
    )


def test_a_drive_beyond_all_measure_is_refused_in_words() -> None:
    with pytest.raises(StationFaultError, match="beyond what can be computed"):
        relaxed(200.0, crossover=False)
