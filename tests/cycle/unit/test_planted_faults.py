"""Every planted fault fails, or voids, for the right cause and with the right advice."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.judging.files.shelf import LimitShelf, limit_shelf
from station.judging.verdicts.verdict import Verdict
from tests.cycle.line import LIMITS, run_unit, simulated_line

FAULTS = [
    ("T2A00201", "reversed_woofer", 1.0, "polarity.woofer", "Woofer leads reversed"),
    ("T2A00202", "reversed_tweeter", 1.0, "polarity.tweeter", "Tweeter leads reversed"),
    ("T2A00203", "dead_tweeter", 1.0, "level.tweeter", "Tweeter silent"),
    ("T2A00204", "dead_woofer", 1.0, "level.woofer", "Woofer silent"),
    ("T2A00205", "shorted_turn", 0.12, "impedance", "shorted turn"),
    ("T2A00206", "coil_rub", 70.0, "rub", "Rub or buzz"),
    ("T2A00207", "loose_part_buzz", 70.0, "rub", "Rub or buzz"),
    ("T2A00208", "wrong_capacitor", 0.25, "impedance", "rossover"),
    ("F6A00201", "reversed_woofer", 1.0, "polarity.woofer", "Woofer leads reversed"),
    ("F6A00202", "reversed_panel", 1.0, "polarity.panel", "Panel leads reversed"),
    ("F6A00203", "missing_bias", 1.0, "level.panel", "bias supply missing"),
    ("F6A00204", "low_bias", 0.25, "level.panel", "bias too low"),
    ("F6A00205", "dead_panel", 1.0, "level.panel", "Panel silent"),
    ("F6A00206", "shorted_turn", 0.12, "impedance", "shorted turn"),
    ("F6A00207", "coil_rub", 70.0, "rub", "Rub or buzz"),
    ("F6A00208", "panel_arcing", 74.0, "rub", "Rub or buzz"),
    ("S12A00201", "reversed_woofer", 1.0, "polarity.woofer", "Woofer leads reversed"),
    ("S12A00202", "coil_rub", 72.0, "rub", "Rub or buzz"),
    ("S12A00203", "wrong_filter_setting", 1.3, "response", "Filter setting"),
    ("S12A00204", "dead_woofer", 1.0, "level.woofer", "it is silent"),
]
STATION_FAULTS = [
    ("station_silent_microphone", 1.0, "microphone"),
    ("station_swapped_channels", 1.0, "microphone"),  # where the voltage arrives instead
    ("station_clipped_input", 6.0, "microphone"),
    ("station_lost_samples", 8.0, "voltage"),
    ("station_repeated_samples", 8.0, "voltage"),
    ("station_clock_drift", 60.0, "voltage"),
    ("station_nan_samples", 3.0, "microphone"),
    ("station_wrong_gain", -6.0, "voltage"),
    ("station_loud_room", 85.0, "ambient"),
]


@pytest.mark.parametrize(("serial", "fault", "severity", "reading", "advice"), FAULTS)
def test_a_planted_fault_fails_for_its_own_cause(
    tmp_path: Path, serial: str, fault: str, severity: float, reading: str, advice: str
) -> None:
    with simulated_line(tmp_path, {serial: {fault: severity}}) as (cycle, _):
        judgement = run_unit(cycle, serial).final.judgement
    assert judgement.verdict is Verdict.FAIL
    assert reading in {cause.reading for cause in judgement.causes}
    assert advice in judgement.next_step


@pytest.mark.parametrize(("fault", "severity", "where"), STATION_FAULTS)
@pytest.mark.parametrize("serial", ["T2A00301", "F6A00301", "S12A00301"])
def test_a_fault_of_the_station_is_never_the_units(
    tmp_path: Path, serial: str, fault: str, severity: float, where: str
) -> None:
    with simulated_line(tmp_path, {serial: {fault: severity}}) as (cycle, _):
        judgement = run_unit(cycle, serial).final.judgement
    assert judgement.verdict is Verdict.VOID
    assert where in {cause.reading for cause in judgement.causes}


@pytest.mark.parametrize("serial", ["T2A00302", "F6A00302"])
def test_a_dead_current_sense_voids_where_impedance_is_judged(tmp_path: Path, serial: str) -> None:
    with simulated_line(tmp_path, {serial: {"station_dead_current": 1.0}}) as (cycle, _):
        judgement = run_unit(cycle, serial).final.judgement
    assert judgement.verdict is Verdict.VOID
    assert "current" in {cause.reading for cause in judgement.causes}


@pytest.mark.parametrize("prefix", ["T2A", "F6A", "S12A"])
def test_twenty_good_units_pass(tmp_path: Path, prefix: str) -> None:
    with simulated_line(tmp_path, {}) as (cycle, _):
        for number in range(400, 420):
            judgement = run_unit(cycle, f"{prefix}{number:05d}").final.judgement
            assert judgement.verdict is Verdict.PASS, judgement.causes


@pytest.mark.parametrize(
    ("serial", "wrong"),
    [("T2A00501", "fell60.toml"), ("F6A00501", "tarn2.toml"), ("S12A00501", "tarn2.toml"),
     ("T2A00502", "scree12.toml"), ("F6A00502", "scree12.toml")],
)  # fmt: skip
def test_the_limit_file_of_another_model_never_passes_a_unit(
    tmp_path: Path, serial: str, wrong: str
) -> None:
    shelf = limit_shelf(LIMITS)
    (taken,) = (file for file in shelf.files if file.name == wrong)
    model = taken.limits.model.model_copy(update={"serial": r".*"})
    limits = taken.limits.model_copy(update={"model": model})
    other = LimitShelf("swapped", (type(taken)(limits, taken.text, taken.name),))
    with simulated_line(tmp_path, {}, shelf=other) as (cycle, _):
        judgement = run_unit(cycle, serial).final.judgement
    assert judgement.verdict is not Verdict.PASS
    if judgement.verdict is Verdict.FAIL:
        assert "does not" in judgement.next_step
        assert taken.limits.model.name in judgement.next_step
