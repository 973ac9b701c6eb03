"""A station file is accepted whole or refused with every fault at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

import station.hardware.files
from station.errors import TextFileError
from station.hardware.files.stationfile import station_file

EXAMPLE = Path(station.hardware.files.__file__).with_name("example.station.toml")

SIX_FAULTS = """\
format = 2
name = ""
microphone_distance_m = -1.0

[audio]
device = "USB Audio"
rate_hz = "fast"
block_frames = 1024
output = 1
output_full_scale_v = 20.0
silence_limit_s = 2.0
colour = "red"

[[inputs]]
input = 1
role = "microphone"
full_scale = 20.0

[[inputs]]
input = 2
role = "loudness"
full_scale = 25.0
"""

DOUBLED = """\
format = 1
name = "line 1"
microphone_distance_m = 1.0

[audio]
device = "USB Audio"
rate_hz = 96000.0
block_frames = 1024
output = 1
output_full_scale_v = 20.0
silence_limit_s = {silence_limit_s}

[[inputs]]
input = 1
role = "microphone"
full_scale = 20.0

[[inputs]]
input = {second_input}
role = "{second_role}"
full_scale = 25.0
"""


def refusal(folder: Path, text: str) -> TextFileError:
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TextFileError) as caught:
        station_file(path)
    return caught.value


def lines_of(error: TextFileError) -> list[int]:
    return [int(fault.split(":")[1]) for fault in error.faults]


def two_inputs(
    *, second_input: int = 2, second_role: str = "voltage", silence_limit_s: float = 2.0
) -> str:
    return DOUBLED.format(
        second_input=second_input, second_role=second_role, silence_limit_s=silence_limit_s
    )


def test_the_example_is_a_station_file() -> None:
    contents, text = station_file(EXAMPLE)
    assert [channel.role for channel in contents.inputs] == [
        "microphone",
        "voltage",
        "current",
        "ambient",
    ]
    assert text == EXAMPLE.read_text(encoding="utf-8")


def test_six_faults_are_told_at_once_each_at_its_line(tmp_path: Path) -> None:
    error = refusal(tmp_path, SIX_FAULTS)
    assert lines_of(error) == [1, 2, 3, 7, 12, 21]
    assert all(fault.startswith(str(tmp_path / "bench.toml")) for fault in error.faults)


def test_a_file_without_faults_is_accepted(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(two_inputs(), encoding="utf-8")
    assert station_file(path)[0].audio.silence_limit_s == 2.0


def test_a_role_used_twice_is_refused_at_the_inputs(tmp_path: Path) -> None:
    error = refusal(tmp_path, two_inputs(second_role="microphone"))
    assert lines_of(error) == [13]
    assert "role microphone is used twice" in error.faults[0]
    assert "the role voltage is missing" in error.faults[0]


def test_an_input_used_twice_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, two_inputs(second_input=1))
    assert lines_of(error) == [13]
    assert "input 1 is used twice" in error.faults[0]


def test_a_missing_role_is_told_together_with_a_fault_of_the_device(tmp_path: Path) -> None:
    error = refusal(tmp_path, two_inputs(second_role="ambient").replace("output = 1", "output = 0"))
    assert lines_of(error) == [9, 13]
    assert "the role voltage is missing" in error.faults[1]


def test_a_silence_limit_shorter_than_four_blocks_is_refused(tmp_path: Path) -> None:
    # 4 * 1024 / 96000 = 0.0427
    error = refusal(tmp_path, two_inputs(silence_limit_s=0.04))
    assert lines_of(error) == [5]
    assert "silence_limit_s must be 4 blocks or more, here 0.0427 s" in error.faults[0]


def test_a_missing_file_is_told_by_its_path(tmp_path: Path) -> None:
    with pytest.raises(TextFileError, match=r"There is no file .*bench\.toml"):
        station_file(tmp_path / "bench.toml")


CALIBRATOR = """
[calibration.calibrator]
frequency_hz = {frequency_hz}
frequency_tolerance_ratio = 0.01
level_uncertainty_db = 0.1
largest_distortion_ratio = 0.03
largest_fluctuation_db = 0.1
duration_s = 2.0
"""
RESISTOR = """
[calibration.resistor]
uncertainty_ratio = 0.002
voltage_uncertainty_ratio = 0.003
level_v = {level_v}
from_hz = 50.0
to_hz = {to_hz}
duration_s = 2.0
"""
MICROPHONE = "\n[calibration.microphone]\ndrift_limit_db = 0.5\ndue_days = {due_days}\n"
CURRENT = "\n[calibration.current]\ndrift_limit_db = 0.2\n"


def test_a_station_file_without_calibration_has_none(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(two_inputs(), encoding="utf-8")
    assert station_file(path)[0].calibration is None


def test_the_example_says_how_each_main_input_is_calibrated() -> None:
    calibration = station_file(EXAMPLE)[0].calibration
    assert calibration is not None
    assert {role: table.due_days for role, table in calibration.channels().items()} == {
        "microphone": 1.0,
        "current": 30.0,
    }


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        (MICROPHONE.format(due_days=1.0), "by a calibrator: its table is missing"),
        (CURRENT, "by a resistor: its table is missing"),
        (
            RESISTOR.format(level_v=2.0, to_hz=2e3) + CURRENT,
            "current is no input of this station",
        ),
        (CALIBRATOR.format(frequency_hz=30e3), "the calibrator's frequency_hz must be 24000"),
        (RESISTOR.format(level_v=2.0, to_hz=390.0), "to_hz must be 8 times from_hz"),
        (RESISTOR.format(level_v=2.0, to_hz=30e3), "the resistor's to_hz must be 24000"),
        (
            RESISTOR.format(level_v=15.0, to_hz=2e3),
            "needs 21.21 V peak",
        ),  # 15 V times the root of two
        (
            CALIBRATOR.format(frequency_hz=1e3) + MICROPHONE.format(due_days=0.0),
            "due_days: Input should be greater than 0",
        ),
    ],
)
def test_a_calibration_that_cannot_be_is_refused(tmp_path: Path, tables: str, told: str) -> None:
    text = two_inputs()
    error = refusal(tmp_path, text + tables)
    assert len(error.faults) == 1
    assert told in error.faults[0]
    assert lines_of(error)[0] > len(text.splitlines())
