"""The forecast of a response against simulated speakers: physics that no netlist knows of."""

from __future__ import annotations

import threading
from functools import cache

import numpy as np
import pytest

from station.analysis.arrays import FloatArray
from station.cycle.trials.trial import judged, order_for, played
from station.diagnosis.circuit.building import NEPER_DB, network_of
from station.diagnosis.circuit.loudness import levels_db, outputs_per_volt
from station.diagnosis.circuit.network import Mode
from station.judging.files.planning import reference_of_table
from station.judging.files.shelf import ShelvedLimits, shelved
from station.quality.whatif.forecast import acoustic_model, forecast
from station.quality.whatif.sections import SectionModel, moved_db
from station.study.unitline import ignore_meter, simulated_bench
from tests.cycle.line import LIMITS as LIMITS_FOLDER
from tests.diagnosis.netlists import netlist, sections

SERIAL = "T2A20001"
OFF_RATIO = 0.2
PLANTED = {
    "drifted_woofer_coil": "L1", "drifted_woofer_capacitor": "C1", "drifted_coil": "L2",
    "wrong_capacitor": "C2", "drifted_resistor": "R1",
}  # fmt: skip


@cache
def tarn() -> ShelvedLimits:
    return shelved(LIMITS_FOLDER / "tarn2.toml")


def heard(fault: str) -> tuple[FloatArray, FloatArray]:
    """Return the response of one simulated unit, with a fault or without."""
    faults = {fault: OFF_RATIO} if fault else {}
    bench, order = simulated_bench(1, faults), order_for(SERIAL, tarn())
    bench.fixture.secure(SERIAL, tarn().limits.model.name)
    recording = played(bench, order, on_meter=ignore_meter, stop=threading.Event())
    curve = judged(recording, order).readings.curves["response"]
    return curve.frequency_hz, curve.values


def model_of_tarn() -> SectionModel:
    limits = tarn().limits
    assert limits.netlist is not None
    found = acoustic_model(limits, network_of(limits.netlist, limits.readings.sections))
    assert found is not None
    return found[1]


def test_a_part_that_is_off_moves_the_response_as_forecast() -> None:
    model = model_of_tarn()
    at_hz, good_db = heard("")
    for fault, part in PLANTED.items():
        _, off_db = heard(fault)
        variables = np.array([[
            np.log1p(OFF_RATIO) if (one.part, one.mode) == (part, Mode.VALUE) else 0.0
            for one in model.network.variables
        ]])  # fmt: skip
        none_db = np.zeros((1, len(model.network.outputs)))
        forecast_db = moved_db(model, variables, none_db, at_hz)[0]
        # The parts move it by 0.4 to 0.8 dB; 0.08 dB was the worst seen, beside 0.02 dB of noise.
        assert np.abs(off_db - good_db).max() > 0.3, fault
        assert np.abs(off_db - good_db - forecast_db).max() < 0.15, fault


def test_the_sections_make_the_reference_together() -> None:
    reference = tarn().limits.reference
    assert reference is not None
    model, known = model_of_tarn(), reference_of_table(reference)
    assert model.shares(known.frequency_hz).sum(axis=0) == pytest.approx(1.0)
    assert model.unlikeness_db(known) < 1.0
    alone = np.abs(model.shares(np.array([60.0, 15_000.0])))
    assert alone[0, 0] == pytest.approx(1.0, abs=0.01)  # the woofer, far below the crossover
    assert alone[1, 1] == pytest.approx(1.0, abs=0.03)  # the tweeter, far above


def test_a_section_s_output_is_its_level_at_each_frequency() -> None:
    """The level over a section's range, compared with ngspice in test_solver.py, is its mean."""
    network = network_of(netlist("two_way"), sections("two_way"))
    variables = 0.03 * np.random.default_rng(5).standard_normal((7, len(network.variables)))
    levels = levels_db(network, variables)
    for place, output in enumerate(network.outputs):
        at_hz = np.array(output.frequency_hz)
        found = outputs_per_volt(network, variables, at_hz)[place]
        mean_db = NEPER_DB * np.log(np.abs(found)).mean(axis=1)
        assert mean_db == pytest.approx(levels[:, place], abs=1e-9)


def test_sections_that_cancel_are_not_forecast() -> None:
    """Two thirds of the hybrid's sound cancel at its crossover: there small errors grow large."""
    limits = shelved(LIMITS_FOLDER / "fell60.toml").limits
    assert limits.netlist is not None
    network = network_of(limits.netlist, limits.readings.sections)
    assert acoustic_model(limits, network) is None
    assert "response" in forecast(limits, 50, seed=1).not_forecast


def test_a_production_varies_by_its_sections_levels_where_one_sounds_alone() -> None:
    limits = tarn().limits
    found = forecast(limits, 3000, seed=1)
    assert {"response", "sensitivity"} <= set(found.judged)
    response = found.units.curves["response"][0]
    high = (response.frequency_hz > 5000.0) & (response.frequency_hz < 13_000.0)
    alone_db = response.values[:, high].mean(axis=1)
    level_db = found.units.numbers["level.tweeter"].values
    # the level is the mean over 4.5 to 14 kHz of the same section
    assert np.corrcoef(alone_db, level_db)[0, 1] > 0.99
    assert alone_db.std() == pytest.approx(level_db.std(), rel=0.05)
