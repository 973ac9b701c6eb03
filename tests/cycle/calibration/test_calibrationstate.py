"""Units are tested on inputs whose calibration holds, and every run says which one it was."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from station.cycle.calibration.calibrationstate import calibrated_bench, input_states
from station.errors import StationFaultError
from station.hardware.protocols.thermometer import NotedTemperature
from station.judging.verdicts.verdict import Verdict
from station.records.recordings.recording_file import read_recording
from station.simulation.bench.thermometer import SimulatedThermometer
from tests.cycle.calibrated import CalibratedStation, calibrated_station, station_with_due
from tests.cycle.line import run_unit

GOOD = "T2A00101"


def refusal(station: CalibratedStation) -> StationFaultError:
    """Return why the station tests no unit, and make sure that it tested none."""
    with pytest.raises(StationFaultError) as caught:
        run_unit(station.cycle(), GOOD)
    assert station.log.runs_of(GOOD) == ()
    return caught.value


def test_an_input_that_was_never_calibrated_stops_the_testing(tmp_path: Path) -> None:
    with calibrated_station(tmp_path, station_with_due(microphone=1.0)) as station:
        error = refusal(station)
        assert error.happened.startswith("The microphone was never calibrated")
        assert error.remedy == "Calibrate the microphone: station calibrate microphone."
        station.by_calibrator()
        assert run_unit(station.cycle(), GOOD).final.judgement.verdict is Verdict.PASS


def test_a_calibration_ends_when_its_days_are_over(tmp_path: Path) -> None:
    with calibrated_station(tmp_path, station_with_due(microphone=0.5, current=30.0)) as station:
        station.by_calibrator()
        station.by_resistor()
        station.clock.later(hours=12, seconds=-1)
        (microphone, current, ambient) = input_states(station.bench.station, station.log)
        assert [state.place.role for state in (microphone, current, ambient)] == [
            "microphone",
            "current",
            "ambient",
        ]
        assert microphone.fault(station.clock.utc_now()) is None
        station.clock.later(seconds=1)
        error = refusal(station)
        assert "calibration of the microphone of 2026-11-23 06:00 UTC is over its 0.5 days" in (
            error.happened
        )
        station.by_calibrator()
        station.clock.later(days=29.5)
        station.by_calibrator()
        assert refusal(station).remedy == "Calibrate the current sense: station calibrate current."


def test_a_refused_calibration_stops_the_testing_until_one_is_accepted(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:  # even where nothing is ever due
        station.by_calibrator()
        station.by_calibrator(faults={"station_aged_microphone": 1.0})
        assert refusal(station).happened == (
            "The calibration of the microphone of 2026-11-23 06:00 UTC was refused."
        )
        station.by_calibrator()
        calibrated_bench(station.bench, station.log)


def test_a_calibration_from_the_future_tells_that_the_clock_is_off(tmp_path: Path) -> None:
    with calibrated_station(tmp_path, station_with_due(microphone=1.0)) as station:
        station.clock.later(days=400)
        station.by_calibrator()
        station.clock.later(days=-400)
        assert "yet to come: the clock is off" in refusal(station).happened


@pytest.mark.parametrize("change", ["full scale", "device", "input", "name"])
def test_a_changed_input_must_be_calibrated_anew(tmp_path: Path, change: str) -> None:
    with calibrated_station(tmp_path, station_with_due(microphone=1.0)) as station:
        station.by_calibrator()
        known = station.bench.station
        microphone, *others = known.inputs
        changed = {
            "full scale": {"inputs": (microphone.model_copy(update={"full_scale": 25.0}), *others)},
            "device": {"audio": known.audio.model_copy(update={"device": "another"})},
            "input": {"inputs": (microphone.model_copy(update={"input": 7}), *others)},
            "name": {"name": "line 2"},
        }[change]
        station.bench = replace(station.bench, station=known.model_copy(update=changed))
        assert "never calibrated as the station file has it now" in refusal(station).happened


def test_a_run_says_which_calibration_it_used_and_which_input_had_none(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        run_unit(station.cycle(), GOOD)
        station.clock.later(hours=1)
        used = station.by_calibrator(faults={"station_aged_microphone": 0.2})
        run_unit(station.cycle(), GOOD)
        before, after = station.log.runs_of(GOOD)
        assert before.setup.calibrations == {"microphone": None, "current": None, "ambient": None}
        assert after.setup.calibrations["current"] is None
        named = after.setup.calibrations["microphone"]
        assert named is not None
        assert named.calibration_id == used.calibration_id
        assert named.calibrated_utc == used.calibrated_utc
        assert named.full_scale == used.full_scale
        assert after.temperature_c == 20.0  # as the simulated room usually is


def test_levels_are_read_by_the_calibrated_full_scale(tmp_path: Path) -> None:
    # The microphone has lost 0.2 dB on both occasions; only the second run knows.
    faults = {GOOD: {"station_aged_microphone": 0.2}}
    with calibrated_station(tmp_path, faults=faults) as station:
        run_unit(station.cycle(), GOOD)
        station.by_calibrator(faults=faults[GOOD])
        run_unit(station.cycle(), GOOD)
        unaware, aware = station.log.runs_of(GOOD)
        rise_db = (
            aware.readings.numbers["sensitivity"].value
            - unaware.readings.numbers["sensitivity"].value
        )
        assert rise_db == pytest.approx(0.2, abs=0.02)  # the noise differs between the runs
        assert aware.recording is not None
        recording, _ = read_recording(station.log.path_of(aware.recording))
        by_role = {channel.role: channel.full_scale for channel in recording.channels}
        # 20 Pa and 0.2 dB are 20.47 Pa; the voltage keeps the station file's 25 V.
        assert by_role["microphone"] == pytest.approx(20.4659, rel=1e-4)
        assert by_role["voltage"] == 25.0


def test_a_bench_tells_what_calibration_adds_to_the_uncertainty(tmp_path: Path) -> None:
    with calibrated_station(tmp_path) as station:
        assert station.bench.calibration_uncertainty_db("microphone") is None
        station.by_calibrator()
        bench = calibrated_bench(station.bench, station.log)
        assert bench.calibration_uncertainty_db("microphone") == pytest.approx(0.1, rel=0.01)
        assert bench.calibration_uncertainty_db("current") is None
        assert np.isclose(bench.station.inputs[0].full_scale, 20.0, rtol=1e-4)
        assert station.bench.station.inputs[0].full_scale == 20.0


def test_a_run_notes_what_the_thermometer_shows(tmp_path: Path) -> None:
    hot = {GOOD: {"station_hot_room": 23.0}}
    with calibrated_station(tmp_path, faults=hot) as station:
        run_unit(station.cycle(), GOOD)
        for thermometer in (
            SimulatedThermometer(station.twin.fixture, error_c=-0.5),
            SimulatedThermometer(station.twin.fixture, unplugged=True),
            NotedTemperature(19.0),
        ):
            station.bench = replace(station.bench, thermometer=thermometer)
            run_unit(station.cycle(), GOOD)
        noted = {run.temperature_c for run in station.log.runs_of(GOOD)}
    assert noted == {23.0, 22.5, None, 19.0}
