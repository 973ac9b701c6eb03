from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.simulation.physics.circuit import Branch, Circuit
from station.simulation.physics.defects import Arcs
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.networks import Part, Transformer
from station.simulation.physics.panel import Panel
from station.simulation.physics.relaxation import Extra, Source, linear_solution
from station.simulation.products.fell60 import NOMINAL

GRID = TimeGrid(19200, 96000.0)
FLAT = replace(NOMINAL.panel, dipole_hz=1e-3, rolloff_hz=1e9, modes=())


def tone(frequency_hz: float, peak_v: float) -> np.ndarray:
    """Return the spectrum of a tone with whole cycles over the padded length."""
    cycles = round(frequency_hz * GRID.n_padded / GRID.rate_hz)
    turn = 2 * np.pi * cycles * np.arange(GRID.n_padded) / GRID.n_padded
    return np.asarray(np.fft.rfft(peak_v * np.cos(turn)))


def peak_of(spectrum: np.ndarray, frequency_hz: float) -> float:
    cycles = round(frequency_hz * GRID.n_padded / GRID.rate_hz)
    return float(2 * abs(spectrum[cycles]) / GRID.n_padded)


def with_unbalance(ratio: float) -> Panel:
    return replace(FLAT, unbalance_ratio=ratio, residue_ratio=0.0)


def with_residue(ratio: float) -> Panel:
    return replace(FLAT, unbalance_ratio=0.0, residue_ratio=ratio)


def harmonic_ratio(panel: Panel, order: int, peak_v: float) -> float:
    heard = panel.sound_pa(tone(1000.0, peak_v), GRID)
    return peak_of(heard, order * 1000.0) / peak_of(heard, 1000.0)


def test_unbalance_makes_the_second_harmonic_a_square_law_makes() -> None:
    # p ∝ v + β·v²/Vbias: the second harmonic is β·V/(2·Vbias) = 0.06·300/6000 = 0.3 %
    panel = replace(with_unbalance(0.06), bias_ratio=1.0)
    assert harmonic_ratio(panel, 2, 300.0) == pytest.approx(0.003, rel=1e-3)
    assert harmonic_ratio(panel, 3, 300.0) < 1e-9


def test_push_pull_leaves_the_third_harmonic_a_cube_makes() -> None:
    # p ∝ v + γ·v³/Vbias²: cos³ = (3·cos + cos 3)/4, so H3 = γ·(V/Vbias)²/4 = 0.03·0.01/4 = 75e-6,
    # over a fundamental that grows by 3·75e-6
    panel = replace(with_residue(0.03), bias_ratio=1.0)
    assert harmonic_ratio(panel, 3, 300.0) == pytest.approx(75e-6 / (1 + 225e-6), rel=1e-4)
    assert harmonic_ratio(panel, 2, 300.0) < 1e-9


def test_a_real_panel_has_a_little_third_harmonic() -> None:
    h3_db = 20 * np.log10(harmonic_ratio(NOMINAL.panel, 3, NOMINAL.panel.loud_v))
    assert -90.0 < h3_db < -65.0


def test_a_balanced_panel_is_linear() -> None:
    panel, voltage = replace(with_unbalance(0.0), bias_ratio=1.0), tone(1000.0, 300.0)
    expected = panel.linear_pa(voltage, GRID.s)
    np.testing.assert_allclose(panel.sound_pa(voltage, GRID), expected, atol=1e-9)


def test_without_bias_only_the_square_law_is_left() -> None:
    panel, voltage = replace(FLAT, bias_ratio=0.0), tone(1000.0, 300.0)
    assert not panel.linear_pa(voltage, GRID.s).any()
    heard = panel.sound_pa(voltage, GRID)
    assert peak_of(heard, 2000.0) > 0.0
    assert peak_of(heard, 1000.0) < 1e-6 * peak_of(heard, 2000.0)
    assert peak_of(heard, 3000.0) < 1e-6 * peak_of(heard, 2000.0)


@pytest.mark.parametrize(
    ("panel", "folded_hz"),
    # 60 kHz would fold to 36 kHz at 96 kHz, 90 kHz to 6 kHz
    [(with_unbalance(0.06), 36e3), (with_residue(0.06), 6e3)],
    ids=["second", "third"],
)
def test_harmonics_of_the_top_octave_fold_nowhere(panel: Panel, folded_hz: float) -> None:
    bent = panel.bent_v(tone(30e3, 300.0), GRID)
    audible = panel.bent_v(tone(1000.0, 300.0), GRID)
    assert peak_of(bent, folded_hz) < 1e-6 * max(peak_of(audible, f) for f in (2000.0, 3000.0))


def charging(bias_on_s: float) -> Panel:
    return replace(FLAT, bias_ratio=1.0, charging_s=4.0, bias_on_s=bias_on_s)


def test_bias_builds_up_as_a_capacitor_charges() -> None:
    # 1 - exp(-t/τ): 63.2 % after τ, 95.0 % after 3τ
    assert charging(4.0).bias_at(np.zeros(1))[0] == pytest.approx(0.6321, abs=1e-4)
    assert charging(12.0).bias_at(np.zeros(1))[0] == pytest.approx(0.9502, abs=1e-4)
    assert charging(0.0).bias_at(np.array([4.0]))[0] == pytest.approx(0.6321, abs=1e-4)


def test_sound_grows_while_the_bias_builds_up_during_a_stimulus() -> None:
    voltage = tone(1000.0, 300.0)
    growing_panel = replace(charging(0.1), unbalance_ratio=0.0, residue_ratio=0.0)
    steady = GRID.signal(charging(np.inf).linear_pa(voltage, GRID.s))
    growing = GRID.signal(growing_panel.sound_pa(voltage, GRID))
    for begin in (2000, 10000, 17000):
        piece = slice(begin, begin + 960)
        after_s = 0.1 + (begin + 480) / GRID.rate_hz
        expected = 1.0 - np.exp(-after_s / 4.0)
        assert np.std(growing[piece]) / np.std(steady[piece]) == pytest.approx(expected, rel=1e-3)


def test_the_back_is_out_of_phase_at_long_wavelengths() -> None:
    low = np.array([2j * np.pi * 100.0])
    # a short dipole radiates -1 behind (Kinsler et al., ch. 7); the grille takes a tenth
    assert FLAT.ratio_at(low, 180.0)[0] == pytest.approx(-0.9, abs=0.1)


def test_arcs_come_more_often_at_higher_voltage() -> None:
    arcing, rng = replace(FLAT, arc_db_spl=68.0), np.random.default_rng
    quiet = arcing.arcs(tone(1000.0, 150.0), GRID, rng(1))
    loud = arcing.arcs(tone(1000.0, 450.0), GRID, rng(1))
    assert quiet is not None
    assert loud is not None
    assert np.count_nonzero(loud.drop_v) > 5 * max(np.count_nonzero(quiet.drop_v), 1)
    # 68 dB SPL peak = 20 µPa · 10^3.4 = 50.2 mPa
    assert np.max(np.abs(loud.sound_pa)) == pytest.approx(50.2e-3, rel=0.01)
    assert FLAT.arcs(tone(1000.0, 450.0), GRID, rng(1)) is None


def test_an_arc_takes_voltage_away_and_never_adds_any() -> None:
    voltage = tone(1000.0, 450.0)
    arcs = replace(FLAT, arc_db_spl=80.0).arcs(voltage, GRID, np.random.default_rng(1))
    assert arcs is not None
    struck = arcs.drop_v != 0.0
    assert np.all(np.sign(arcs.drop_v[struck]) == np.sign(GRID.signal(voltage)[struck]))


def test_an_arc_draws_its_charge_through_the_transformer() -> None:
    # The panel's capacitance C loses C·drop at once, which has to come back from the terminals:
    # the whole surge there holds turns ratio times that charge, however it rings on its way.
    capacitance_f, turns, resistance_ohm, drop_v = 1e-9, 75.0, 20.0, 30.0
    chain = (Part("series", resistance_ohm), Transformer(turns))
    branch = Branch("panel", chain, Part("shunt", capacitance_f=capacitance_f))
    circuit = Circuit((branch,)).at(GRID.s)
    drops_v = np.zeros(GRID.n_samples)
    drops_v[5000] = drop_v
    load = Arcs(np.zeros(GRID.n_samples), drops_v).load_v(GRID)
    silence = Source(np.zeros_like(GRID.s), np.zeros_like(GRID.s))
    extras = {"panel": Extra(np.zeros(0, np.complex128), load)}
    solution = linear_solution(circuit, silence, extras)
    surge_c = np.sum(GRID.signal(solution.current_a)) / GRID.rate_hz
    assert surge_c == pytest.approx(turns * capacitance_f * drop_v, rel=1e-3)
    panel_v = GRID.signal(solution.loads["panel"].voltage_v)
    # drained at once, it recharges with R·N²·C = 112 µs, 10.8 samples
    for after in (10, 20, 30):
        expected_v = -drop_v * np.exp(-after / 96000.0 / 112.5e-6)
        assert panel_v[5000 + after] == pytest.approx(expected_v, abs=0.02 * drop_v)
