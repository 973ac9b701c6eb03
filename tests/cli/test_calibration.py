"""Calibration by commands: stored, judged, used by the next run, and enforced."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from station.records.kept.calibration import Place
from station.records.log.log import RunLog
from tests.cycle.line import LIMITS
from tests.records.example import example_calibration

PASS, REFUSED, FAULT = 0, 2, 4
SHIPPED = resources.files("station.simulation.bench").joinpath("station.toml").read_text("utf-8")
WHO = ("--by", "N. Holm", "--temperature", "21", "--simulate")


def calibrate(station: Any, logs: Path, *more: str | Path) -> Any:
    return station("calibrate", "microphone", "--level", "94", *WHO, "--logs", logs, *more)


def unit_tested(station: Any, logs: Path, serial: str, *more: str | Path) -> Any:
    where = ("--simulate", "--limits-folder", LIMITS, "--logs", logs)
    return station("test", serial, *where, *more)


def station_file_with(folder: Path, microphone: str) -> Path:
    """Write the simulated station's file with more lines in its table of the microphone."""
    path = folder / "line.toml"
    table = "[calibration.microphone]\n"
    assert table in SHIPPED
    path.write_text(SHIPPED.replace(table, f"{table}{microphone}\n"), encoding="utf-8")
    return path


def test_a_calibration_is_told_and_kept(station: Any, tmp_path: Path) -> None:
    shown = calibrate(station, tmp_path)
    assert shown.code == PASS
    for words in ("ACCEPTED  microphone", "first calibration", "next unit on", "20.000 ± 0.46 Pa"):
        assert words in shown.out
    current = station(
        "calibrate", "current", "--resistor", "8.2", *WHO, "--logs", tmp_path, "--json"
    )
    assert current.code == PASS
    (told,) = current.runs()
    # The full scale of the simulated sensor, from its station file.
    assert told["full_scale"] == pytest.approx(20.0, rel=1e-4)
    assert (told["unit"], told["nominal"], told["nominal_unit"]) == ("A", 8.2, "Ω")
    assert (told["by"], told["temperature_c"], told["verdict"]) == ("N. Holm", 21.0, "accepted")
    listed = station("calibrate", "history", "--simulate", "--logs", tmp_path, "--json").runs()
    assert [one["role"] for one in listed] == ["microphone", "current"]
    assert listed[1] == told
    table = station("calibrate", "history", "--simulate", "--logs", tmp_path).out
    assert "calibrator 94 dB" in table
    assert told["id"][:8] in table
    with RunLog.open(tmp_path / "simulated") as log:
        assert log.chain_fault() is None


def test_a_run_tells_its_temperature_and_its_calibrations(station: Any, tmp_path: Path) -> None:
    bare = unit_tested(station, tmp_path, "T2A00701")
    assert "20.0 °C; not calibrated: microphone, current sense, ambient microphone" in bare.out
    calibrate(station, tmp_path)
    (run,) = unit_tested(station, tmp_path, "T2A00701", "--temperature", "23.5", "--json").runs()
    assert run["temperature_c"] == 23.5
    assert run["calibrations"]["current"] is None
    used = run["calibrations"]["microphone"]
    assert used["full_scale"] == pytest.approx(20.0, rel=1e-4)
    assert used["standard_uncertainty_db"] == pytest.approx(0.1, rel=0.01)
    first, second = station(
        "history", "T2A00701", "--simulate", "--logs", tmp_path, "--json"
    ).runs()
    assert first["calibrations"] == {"microphone": None, "current": None, "ambient": None}
    assert second["calibrations"] == run["calibrations"]
    assert "23.5" in station("history", "T2A00701", "--simulate", "--logs", tmp_path).out


def test_a_refused_drift_leaves_with_a_station_fault_and_stops_the_testing(
    station: Any, tmp_path: Path
) -> None:
    calibrate(station, tmp_path)
    drifted = calibrate(station, tmp_path, "--fault", "station_aged_microphone=1.5")
    assert drifted.code == FAULT
    assert "REFUSED  microphone" in drifted.out
    assert "+1.50 dB" in drifted.out
    stopped = unit_tested(station, tmp_path, "T2A00702")
    assert stopped.code == FAULT
    assert "was refused. Calibrate the microphone: station calibrate microphone." in stopped.err
    assert calibrate(station, tmp_path).code == PASS
    assert unit_tested(station, tmp_path, "T2A00702").code == PASS


def test_a_calibrator_at_its_other_level_is_told_in_a_sentence(
    station: Any, tmp_path: Path
) -> None:
    shown = calibrate(station, tmp_path, "--fault", "station_calibrator_error=20")
    assert shown.code == FAULT
    assert "The tone is that of 114 dB, not of 94 dB" in shown.out
    assert "Say --level 114" in shown.out


def test_a_station_file_with_due_days_is_enforced(station: Any, tmp_path: Path) -> None:
    file = ("--station-file", station_file_with(tmp_path, "due_days = 1.0"))
    never = unit_tested(station, tmp_path, "T2A00703", *file)
    assert never.code == FAULT
    assert "The microphone was never calibrated" in never.err
    assert "station calibrate microphone" in never.err
    (tmp_path / "simulated").mkdir(exist_ok=True)
    with RunLog.open(tmp_path / "simulated") as log:
        log.store_calibration(
            example_calibration(
                calibrated_utc=datetime.now(UTC) - timedelta(days=1, minutes=1),
                place=Place("simulated", "simulated", 1, "microphone", 20.0),
                full_scale=20.0,
            )
        )
    over = unit_tested(station, tmp_path, "T2A00703", *file)
    assert over.code == FAULT
    assert "is over its 1 days" in over.err
    renewed = calibrate(station, tmp_path, *file)
    assert "the next one is due in 1 days" in renewed.out
    assert unit_tested(station, tmp_path, "T2A00703", *file).code == PASS


def test_a_correction_takes_the_capsule_out_of_the_response(station: Any, tmp_path: Path) -> None:
    # A capsule that is 3 dB down at 20 kHz, and 1 dB up where it is calibrated: the calibration
    # takes the 1 dB, the correction what differs from it.
    (tmp_path / "capsule.txt").write_text("20 1\n1000 1\n10000 0\n20000 -3\n40000 -3\n")
    file = ("--station-file", station_file_with(tmp_path, 'correction = "capsule.txt"'))
    ideal = unit_tested(station, tmp_path / "ideal", "T2A00704", "--json").runs()[0]
    assert calibrate(station, tmp_path, *file).code == PASS
    real = unit_tested(station, tmp_path, "T2A00704", *file, "--json").runs()[0]
    for ours, theirs in zip(
        real["readings"]["response"]["values"],
        ideal["readings"]["response"]["values"],
        strict=True,
    ):
        assert ours == pytest.approx(theirs, abs=0.1)  # the room's noise differs by the capsule
    folder = tmp_path / "simulated" / "recordings"
    again = station("judge", folder, "--limits", LIMITS / "tarn2.toml", "--json").runs()[0]
    assert again["readings"] == real["readings"]


def test_a_correction_file_with_faults_is_refused_at_its_line(station: Any, tmp_path: Path) -> None:
    (tmp_path / "capsule.txt").write_text("20 1\n10 0\n")
    file = ("--station-file", station_file_with(tmp_path, 'correction = "capsule.txt"'))
    shown = unit_tested(station, tmp_path, "T2A00705", *file)
    assert shown.code == REFUSED
    assert f"{tmp_path / 'capsule.txt'}:2: the frequency 10 Hz does not rise" in shown.err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("microphone", "--level", "100", *WHO), "'100' is not one of"),
        (("microphone", "--level", "94", "--simulate", "--temperature", "21"), "'--by'"),
        (("microphone", "--level", "94", "--simulate", "--by", "N. Holm"), "'--temperature'"),
        (("microphone", "--level", "94", "--by", " ", *WHO[2:]), "Nobody is named"),
        (("microphone", "--level", "94", "--role", "rear", *WHO), "no table [calibration.rear]"),
        (("microphone", "--level", "94", *WHO, "--fault", "coil_rub"), "there is none"),
        (("microphone", "--level", "94", *WHO[:-1], "--fault", "coil_rub"), "simulated hardware"),
        (("current", "--resistor", "0", *WHO), "--resistor"),
        (("current", "--resistor", "8", *WHO[:-1], "--station-file", "no.toml"), "no station file"),
        (("history",), "There is no log"),
    ],
)
def test_wrong_use_gets_one_clear_sentence(
    station: Any, tmp_path: Path, arguments: tuple[str, ...], told: str
) -> None:
    shown = station("calibrate", *arguments, "--logs", tmp_path)
    assert shown.code == REFUSED
    assert told in shown.err


def test_the_doctor_shows_each_input_with_the_days_left(station: Any, tmp_path: Path) -> None:
    file = station_file_with(tmp_path, "due_days = 2.0")
    asked = ("--limits-folder", LIMITS, "--logs", tmp_path, "--station-file", file)
    never = station("doctor", *asked)
    assert "The microphone was never calibrated" in never.out
    assert "station calibrate microphone" in never.out
    assert "current sense: not calibrated, and none is due" in never.out
    with RunLog.open(tmp_path) as log:
        log.store_calibration(
            example_calibration(
                calibrated_utc=datetime.now(UTC) - timedelta(hours=12),
                place=Place("simulated", "simulated", 1, "microphone", 20.0),
            )
        )
    assert "by N. Ørsted; 1.5 days left" in station("doctor", *asked).out


def test_a_pair_is_compared_in_text_and_json(station: Any, tmp_path: Path) -> None:
    for serial in ("T2A00706", "T2A00707"):
        unit_tested(station, tmp_path, serial)
    where = ("--simulate", "--logs", tmp_path)
    shown = station("pair", "T2A00706", "T2A00707", *where)
    assert shown.code == PASS
    assert "Tarn 2: T2A00707" in shown.out
    (there,) = station("pair", "T2A00706", "T2A00707", *where, "--json").runs()
    (back,) = station("pair", "T2A00707", "T2A00706", *where, "--json").runs()
    assert [band["name"] for band in there["bands"]] == ["sensitivity", "response"]
    assert there["second"]["serial"] == "T2A00707"
    for one, other in zip(there["bands"], back["bands"], strict=True):
        assert one["level_db"] == pytest.approx(-other["level_db"], abs=1e-9)
        assert one["shape_rms_db"] == pytest.approx(other["shape_rms_db"], abs=1e-9)
    unit_tested(station, tmp_path, "T2A00707", "--fault", "dead_tweeter")
    later = station("pair", "T2A00706", "T2A00707", *where)
    assert "T2A00707 has not passed since: its newest run is FAIL." in later.out
    unknown = station("pair", "T2A00706", "T2A99999", *where)
    assert unknown.code == REFUSED
    assert "no run of 'T2A99999'" in unknown.err
