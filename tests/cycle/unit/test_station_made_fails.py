"""A cold bias, a hot room, a leaky fixture, aged sensors, another model: void or refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.cycle.ready.climate import check_temperature
from station.errors import StationFaultError
from station.hardware.protocols.thermometer import NotedTemperature
from station.judging.files.shelf import shelved
from station.judging.verdicts.verdict import Verdict
from tests.cycle.line import LIMITS, run_unit, simulated_line

MADE_BY_STATION = [
    ("F6A00801", {"station_early_bias": 3.0}, "level.panel"),
    ("T2A00802", {"station_loose_fixture": -14.0}, "ambient"),
    ("T2A00803", {"station_aged_microphone": 3.0}, "microphone"),
    ("T2A00804", {"station_aged_current": 1.0}, "current"),
    ("F6A00805", {"station_aged_current": -1.0}, "current"),
    ("T2A00806", {"station_wrong_model": 1.0}, "unit"),
    ("F6A00807", {"station_wrong_model": 2.0}, "unit"),
    ("S12A00808", {"station_wrong_model": 1.0}, "unit"),
]


@pytest.mark.parametrize(("serial", "faults", "reading"), MADE_BY_STATION)
def test_what_the_station_makes_is_void(
    tmp_path: Path, serial: str, faults: dict[str, float], reading: str
) -> None:
    with simulated_line(tmp_path, {serial: faults}) as (cycle, _):
        report = run_unit(cycle, serial)
    assert {run.judgement.verdict for run in report.runs} == {Verdict.VOID}
    assert reading in {cause.reading for cause in report.final.judgement.causes}


def test_a_weak_bias_that_stands_still_fails_at_the_second_sweep(tmp_path: Path) -> None:
    serial = "F6A00809"
    with simulated_line(tmp_path, {serial: {"low_bias": 0.25}}) as (cycle, _):
        report = run_unit(cycle, serial)
    assert [run.judgement.verdict for run in report.runs] == [Verdict.VOID, Verdict.FAIL]
    assert "bias too low" in report.final.judgement.next_step


def test_a_panel_without_bias_fails_at_once(tmp_path: Path) -> None:
    serial = "F6A00810"
    with simulated_line(tmp_path, {serial: {"missing_bias": 1.0}}) as (cycle, _):
        report = run_unit(cycle, serial)
    assert [run.judgement.verdict for run in report.runs] == [Verdict.FAIL]


def test_limits_hold_only_for_their_temperatures() -> None:
    limits = shelved(LIMITS / "tarn2.toml").limits
    for fine_c in (17.0, 20.0, 24.0, None):
        check_temperature(NotedTemperature(fine_c), limits)
    for wrong_c in (16.9, 24.1):
        with pytest.raises(StationFaultError, match="hold from 17 to 24 °C"):
            check_temperature(NotedTemperature(wrong_c), limits)
    anywhere = limits.model_copy(update={"conditions": None})
    check_temperature(NotedTemperature(40.0), anywhere)


def test_a_bang_beside_a_real_fault_is_not_its_first_cause(tmp_path: Path) -> None:
    serial, faults = "T2A00811", {"reversed_tweeter": 1.0, "station_bang": 95.0}
    with simulated_line(tmp_path, {serial: faults}) as (cycle, log):
        judgement = run_unit(cycle, serial).final.judgement
        stored = log.runs_of(serial)[-1]
    assert judgement.verdict is Verdict.FAIL
    assert "rub" not in {cause.reading for cause in judgement.causes}
    assert judgement.next_step.startswith("Tweeter leads reversed")
    assert stored.judgement.causes == judgement.causes
    assert stored.judgement.margins["rub"].value < 0.0  # what was read stays read
