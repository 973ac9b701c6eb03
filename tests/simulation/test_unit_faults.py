"""Faults of units do in physics what their names say; severities are what they claim."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from station.simulation.faults import FELL, SCREE, TARN, fault_names, fault_of
from station.simulation.physics.defects import Leak, Rub
from station.simulation.physics.drivers import Driver
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.networks import Part, shorted
from station.simulation.physics.relaxation import Source
from station.simulation.physics.speaker import PassiveSpeaker, SimulatedUnit
from station.simulation.products import fell60, tarn2
from station.simulation.products.spread import Spread
from station.simulation.products.units import MODELS, simulated_unit, unit_truth
from tests.simulation.fingerprint import stimulus

F_HZ = np.geomspace(12.0, 40e3, 120)
RATE_HZ = 96000.0
GRID = TimeGrid(48000, RATE_HZ)
LOW_HZ = np.linspace(30.0, 90.0, 6001)


def units(fault: str, severity: float, serial: str = "T2A00001") -> tuple[SimulatedUnit, ...]:
    return tuple(unit_truth(serial, 7, faults) for faults in ({}, {fault: severity}))


def woofer_of(serial: str, fault: str, severity: float) -> tuple[Driver, Driver]:
    """Return a unit's woofer as produced and with a fault."""
    found = []
    for faults in ({}, {fault: severity}):
        unit = simulated_unit(serial, 7, faults)
        assert isinstance(unit, PassiveSpeaker)
        (branch,) = (one for one in unit.circuit.branches if one.name == "woofer")
        assert isinstance(branch.load, Driver)
        found.append(branch.load)
    return found[0], found[1]


def harmonic_ratio(serial: str, fault: str, severity: float, order: int) -> float:
    """Return a harmonic over the fundamental at 1 m, for 60 Hz at 2.83 V."""
    time_s = np.arange(48000) / RATE_HZ
    ramp = np.sin(0.5 * np.pi * np.clip(time_s / 0.1, 0.0, 1.0)) ** 2
    drive_v = np.sqrt(2.0) * 2.83 * ramp * np.sin(2 * np.pi * 60.0 * time_s)
    unit = simulated_unit(serial, 7, {fault: severity} if fault else {})
    source = Source(GRID.spectrum(drive_v), np.zeros_like(GRID.s))
    emission = unit.play(source, GRID, np.random.default_rng(3))
    heard = GRID.signal(emission.front_pa)[-16000:]  # ten whole cycles
    turn = np.exp(-2j * np.pi * 60.0 * np.arange(16000) / RATE_HZ)
    return float(abs(np.mean(heard * turn**order)) / abs(np.mean(heard * turn)))


@pytest.mark.parametrize("model", [TARN, FELL, SCREE])
def test_every_fault_of_a_unit_leaves_something_to_be_found(model: str) -> None:
    (prefix,) = (one.prefix for one in MODELS if one.name == model)
    drive_v = (0.5 if model == SCREE else 2.83) * stimulus(1.0)
    source = Source(GRID.spectrum(drive_v), np.full(GRID.s.shape, 0.1 + 0j))

    def heard(faults: dict[str, float]) -> np.ndarray:
        unit = simulated_unit(f"{prefix}00001", 7, faults)
        emission = unit.play(source, GRID, np.random.default_rng(3))
        return np.concatenate([GRID.signal(emission.front_pa), GRID.signal(emission.current_a)])

    good = heard({})
    for name in fault_names(model):
        if not name.startswith("station_"):
            changed = heard({name: fault_of(name).default})
            assert np.isfinite(changed).all(), name
            assert np.max(np.abs(changed - good)) > 1e-3 * np.max(np.abs(good)), name


def test_a_cracked_magnet_is_weak_and_lopsided_where_a_weak_one_is_only_weak() -> None:
    good, cracked = woofer_of("T2A00001", "cracked_magnet", 0.15)
    _, weak = woofer_of("T2A00001", "weak_magnet", 0.15)
    assert cracked.force_factor_tm == weak.force_factor_tm == good.force_factor_tm * 0.85
    assert weak.curves == good.curves
    # at 2 mm, 0.15·100/m more slope makes exp(-0.03) of the force factor
    at_m, rest_a = np.array([2e-3]), np.zeros(1)
    tilt = cracked.curves.force_ratio(at_m, rest_a) / good.curves.force_ratio(at_m, rest_a)
    assert tilt[0] == pytest.approx(np.exp(-0.03), rel=1e-9)


def test_a_cracked_magnet_makes_second_harmonic() -> None:
    h2 = {
        fault: harmonic_ratio("T2A00001", fault, 0.15, 2)
        for fault in ("", "weak_magnet", "cracked_magnet")
    }
    assert h2["cracked_magnet"] > 1.5 * h2[""]
    assert h2["weak_magnet"] < 1.3 * h2[""]


def test_a_torn_surround_softens_leaks_and_tilts() -> None:
    good, torn = woofer_of("T2A00001", "torn_surround", 0.5)
    # the surround holds 60 % of the stiffness: half of it torn leaves 70 %
    assert torn.stiffness_n_m / good.stiffness_n_m == pytest.approx(0.7, rel=1e-9)
    assert torn.box_stiffness_n_m == good.box_stiffness_n_m
    # leaks add as rates: 1/0.5 s + 0.5/1.5 ms
    assert 1.0 / torn.box_leak_s == pytest.approx(2.0 + 333.333, rel=1e-4)
    assert harmonic_ratio("T2A00001", "torn_surround", 0.3, 2) > 1.5 * harmonic_ratio(
        "T2A00001", "", 0.0, 2
    )


def test_a_torn_surround_lowers_and_damps_the_resonance() -> None:
    good, torn = (np.abs(unit.impedance(LOW_HZ)) for unit in units("torn_surround", 0.3))
    assert torn.max() < 0.9 * good.max()


@pytest.mark.parametrize(
    ("fault", "louder_db"), [("torn_surround", 6.02), ("cracked_magnet", 6.02)]
)
def test_twice_the_damage_is_twice_the_noise(fault: str, louder_db: float) -> None:
    peaks = []
    for severity in (0.1, 0.2):
        unit = simulated_unit("T2A00001", 7, {fault: severity})
        assert isinstance(unit, PassiveSpeaker)
        (defect,) = unit.cones[0].defects
        assert isinstance(defect, Leak | Rub)
        peaks.append(defect.peak_db_spl)
    assert peaks[1] - peaks[0] == pytest.approx(louder_db, abs=0.01)


def test_no_damage_at_all_is_a_good_unit() -> None:
    good = unit_truth("T2A00001", 7, {}).response(F_HZ)
    for fault in ("torn_surround", "cracked_magnet", "weak_magnet", "stiff_surround"):
        np.testing.assert_allclose(
            unit_truth("T2A00001", 7, {fault: 0.0}).response(F_HZ), good, rtol=1e-9
        )


def test_another_driver_is_of_another_impedance_or_heavier() -> None:
    good, thick = woofer_of("T2A00001", "wrong_driver", 1.0)
    assert thick.resistance_ohm / good.resistance_ohm == pytest.approx(0.6)
    # the same motor: Bl²/Re, its force per root watt, stays
    force = [driver.force_factor_tm**2 / driver.resistance_ohm for driver in (good, thick)]
    assert force[1] == pytest.approx(force[0], rel=1e-9)
    _, heavy = woofer_of("T2A00001", "wrong_driver", 2.0)
    assert heavy.moving_mass_kg / good.moving_mass_kg == pytest.approx(1.35)
    f_hz = [LOW_HZ[np.abs(unit.impedance(LOW_HZ)).argmax()] for unit in units("wrong_driver", 2.0)]
    # resonance goes with 1/sqrt(mass): 0.861
    assert f_hz[1] / f_hz[0] == pytest.approx(0.861, abs=0.01)


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        (Part("shunt", 0.8, capacitance_f=12e-6), Part("shunt", 0.8)),
        (Part("series", 0.25, 0.66e-3), Part("series", 0.02)),
        (Part("series", 5.05), Part("series", 0.02)),
    ],
    ids=["capacitor", "coil", "resistor"],
)
def test_a_short_bridges_what_the_part_is(part: Part, expected: Part) -> None:
    assert shorted(part) == expected


@pytest.mark.parametrize(("build", "prefix"), [(tarn2, "T2A"), (fell60, "F6A")])
@pytest.mark.parametrize(
    ("fault", "field"),
    [
        ("drifted_woofer_capacitor", "woofer_capacitor"),
        ("drifted_woofer_coil", "woofer_coil"),
        ("drifted_coil", "{}_coil"),
        ("drifted_resistor", "{}_resistor"),
        ("wrong_capacitor", "{}_capacitor"),
    ],
)
def test_a_drifted_part_is_off_by_its_severity_and_no_other_changes(
    build: Any, prefix: str, fault: str, field: str
) -> None:
    parts = build.produced(Spread(f"{prefix}00001", 7))
    drifted = build.changed(parts, fault, -0.25)
    changed = field.format("tweeter" if prefix == "T2A" else "panel")
    for name in parts.__slots__:
        before, after = getattr(parts, name), getattr(drifted, name)
        if name != changed:
            assert before == after, name
    before, after = getattr(parts, changed), getattr(drifted, changed)
    values = [
        one.capacitance_f or one.inductance_h or one.resistance_ohm for one in (before, after)
    ]
    assert values[1] / values[0] == pytest.approx(0.75, rel=1e-12)


@pytest.mark.parametrize(
    ("number", "at_hz", "expected_ohm"),
    # Tarn 2 with one part bridged, at a frequency where little else is left of the impedance
    [
        (1, 20e3, None),  # woofer capacitor: its 0.8 ohm stays, behind the coil's 83 ohm
        (2, 1.0, 5.25),  # upper coil, behind its capacitor: nothing at 1 Hz but the woofer
        # upper capacitor: 0.05 + 0.8 beside 10.05 ohm, that beside the woofer's 5.25
        (3, 1.0, 0.688),
        (4, 1.0, 5.02),  # woofer coil: 5 ohm of the woofer without the coil's 0.25
    ],
)
def test_each_shorted_part_shows_where_it_must(
    number: int, at_hz: float, expected_ohm: float | None
) -> None:
    good, bad = units("shorted_crossover_part", float(number))
    f_hz = np.array([at_hz])
    seen = abs(bad.impedance(f_hz)[0])
    if expected_ohm is None:
        assert seen == pytest.approx(abs(good.impedance(f_hz)[0]), rel=0.1)
    else:
        assert seen == pytest.approx(expected_ohm, rel=0.1)
    change = np.abs(bad.impedance(F_HZ) / good.impedance(F_HZ) - 1.0)
    assert change.max() > 0.05


@pytest.mark.parametrize(
    ("build", "serial", "upper"), [(tarn2, "T2A00001", "tweeter"), (fell60, "F6A00001", "panel")]
)
def test_swapped_parts_are_the_two_capacitors_and_their_joints_stay(
    build: Any, serial: str, upper: str
) -> None:
    parts = build.produced(Spread(serial, 7))
    swapped = build.changed(parts, "swapped_parts", 1.0)
    high = f"{upper}_capacitor"
    assert swapped.woofer_capacitor.capacitance_f == getattr(parts, high).capacitance_f
    assert getattr(swapped, high).capacitance_f == parts.woofer_capacitor.capacitance_f
    assert swapped.woofer_capacitor.resistance_ohm == parts.woofer_capacitor.resistance_ohm
    assert build.changed(swapped, "swapped_parts", 1.0) == parts


def test_arcing_pulls_spikes_of_current() -> None:
    # each arc takes charge from the panel, which comes back through the transformer
    time_s = np.arange(24000) / RATE_HZ
    grid = TimeGrid(24000, RATE_HZ)
    drive_v = 4.0 * np.sin(2 * np.pi * 1000.0 * time_s) * np.sin(np.pi * time_s / 0.25)
    source = Source(grid.spectrum(drive_v), np.full(grid.s.shape, 0.1 + 0j))

    def current_a(faults: dict[str, float]) -> np.ndarray:
        unit = simulated_unit("F6A00001", 7, faults)
        return grid.signal(unit.play(source, grid, np.random.default_rng(3)).current_a)

    spikes = np.abs(current_a({"panel_arcing": 80.0}) - current_a({}))
    assert spikes.max() > 20 * np.median(spikes)
    # 3 ms after one it is over: R·C of transformer and panel is far below
    assert np.median(spikes) < 1e-3
