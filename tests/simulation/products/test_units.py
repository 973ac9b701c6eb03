from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from station.simulation.bench.stationfile import simulated_station
from station.simulation.factory.demo import demo_batch
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.relaxation import Source, excursion_of, solution_of
from station.simulation.physics.speaker import PassiveSpeaker
from station.simulation.products.fell60 import NOMINAL as FELL_PARTS
from station.simulation.products.tarn2 import NOMINAL as TARN_PARTS
from station.simulation.products.units import MODELS, model_of, simulated_unit

RATE_HZ = 96000.0
GRID = TimeGrid(48000, RATE_HZ)


def slow_sweep_v(rms_v: float) -> np.ndarray:
    time_s = np.arange(48000) / RATE_HZ
    swept = signal.chirp(time_s, 20.0, 0.5, 2e3, "logarithmic", phi=-90.0)
    return np.asarray(np.sqrt(2.0) * rms_v * swept * signal.windows.tukey(48000, 0.1))


def test_serial_numbers_lead_to_their_model() -> None:
    names = [model_of(serial).name for serial in ("T2A00001", "F6A99999", "S12A00000")]
    assert names == ["Tarn 2", "Fell 60", "Scree 12"]


def test_the_simulated_stations_file_is_valid_and_has_all_main_roles() -> None:
    station, text = simulated_station()
    assert [one.role for one in station.inputs] == ["microphone", "voltage", "current", "ambient"]
    assert station.audio.rate_hz == 96000.0
    assert station.microphone_distance_m == 1.0
    assert station.name in text


def test_the_demonstration_has_all_models_mostly_good_units_and_possible_faults() -> None:
    batch = demo_batch()
    assert {model_of(serial).name for serial, _ in batch} == {model.name for model in MODELS}
    assert sum(not faults for _, faults in batch) * 2 >= len(batch)
    for serial, faults in batch:
        assert simulated_unit(serial, 1, faults).model == model_of(serial).name


@pytest.mark.parametrize(
    ("serial", "parts"), [("T2A00001", TARN_PARTS), ("F6A00001", FELL_PARTS)], ids=["tarn", "fell"]
)
def test_loud_means_what_the_standard_stimulus_reaches(serial: str, parts: object) -> None:
    unit = simulated_unit(serial, 1, {})
    assert isinstance(unit, PassiveSpeaker)
    source = Source(GRID.spectrum(slow_sweep_v(2.83)), np.zeros_like(GRID.s))
    solution = solution_of(unit.circuit.at(GRID.s), source, GRID)
    peak_m = np.max(np.abs(GRID.signal(excursion_of(solution.loads["woofer"]))))
    loud_m = parts.woofer.loud_m  # type: ignore[attr-defined]  # both Parts have a woofer
    assert loud_m == pytest.approx(peak_m, rel=0.3)


@pytest.mark.parametrize(
    ("serial", "rms_v", "fault", "level_db_spl"),
    [
        ("T2A00001", 2.83, "coil_rub", 66.0),
        ("T2A00001", 2.83, "loose_part_buzz", 66.0),
        ("T2A00001", 2.83, "air_leak", 64.0),
        ("F6A00001", 2.83, "coil_rub", 66.0),
        ("F6A00001", 2.83, "loose_part_buzz", 66.0),
        ("F6A00001", 2.83, "panel_arcing", 68.0),
        ("S12A00001", 0.5, "coil_rub", 66.0),
        ("S12A00001", 0.5, "loose_part_buzz", 66.0),
        ("S12A00001", 0.5, "air_leak", 64.0),
    ],
)
def test_noisy_defects_reach_their_severity_with_the_standard_stimulus(
    serial: str, rms_v: float, fault: str, level_db_spl: float
) -> None:
    source = Source(GRID.spectrum(slow_sweep_v(rms_v)), np.full(GRID.s.shape, 0.09 + 0j))
    heard = []
    for faults in ({}, {fault: level_db_spl}):
        unit = simulated_unit(serial, 1, faults)
        emission = unit.play(source, GRID, np.random.default_rng(3))
        heard.append(GRID.signal(emission.front_pa))
    # what the defect adds, without the low frequencies that a leak's damping changes
    treble = signal.butter(8, 1500.0, "highpass", fs=RATE_HZ, output="sos")
    added = signal.sosfilt(treble, heard[1] - heard[0])
    peak_db_spl = 20 * np.log10(np.max(np.abs(added)) / 20e-6)
    assert peak_db_spl == pytest.approx(level_db_spl, abs=6.0)
