"""A station file's serial devices, by the commands that use them."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

from station.cli.keeping.serialdoctor import device_rows
from station.cli.wiring.attached import attached_fixture, attached_scanner, attached_turntable
from station.errors import FixtureError, TextFileError
from station.hardware.files.stationfile import StationFile, station_file
from station.hardware.protocols.clock import SystemClock
from station.hardware.protocols.manualfixture import ManualFixture
from station.simulation.bench.stationfile import simulated_station
from tests.hardware.serialbench import SerialBench, serial_bench

EXAMPLE = resources.files("station.hardware.files") / "example.station.toml"


def example_text(folder: Path) -> str:
    """Return the example with its serial tables in use, on the devices of a folder."""
    lines = EXAMPLE.read_text().splitlines()
    first = lines.index(next(line for line in lines if line.startswith("# [fixture]")))
    last = lines.index("[safety]")
    used = [line.removeprefix("# ").removeprefix("#") for line in lines[first:last]]
    text = "\n".join([*lines[:first], *used, *lines[last:]])
    for name in ("fixture", "voltmeter", "turntable", "scanner"):
        text = text.replace(f"/dev/serial/by-id/usb-{name}", str(folder / name))
    return text.replace("part of its answer to *IDN?", "Simulated").replace("table-1", "line-1")


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SerialBench]:
    with serial_bench(tmp_path_factory.mktemp("ports")) as running:
        yield running


@pytest.fixture
def station(bench: SerialBench, tmp_path: Path) -> StationFile:
    path = tmp_path / "station.toml"
    path.write_text(example_text(bench.folder))
    return station_file(path)[0]


def test_all_devices_of_the_example_are_held_and_given_back(station: StationFile) -> None:
    for _again in range(2):  # nothing is left open
        with (
            attached_fixture(station, SystemClock()) as fixture,
            attached_turntable(station, SystemClock()) as turntable,
        ):
            assert fixture.lid_closed()
            assert turntable is not None
        scanner = attached_scanner(station)
        assert scanner is not None
        scanner.close()


def test_a_fixture_that_is_missing_is_told_before_a_unit_is_scanned(
    station: StationFile, bench: SerialBench
) -> None:
    bench.tell("unplug fixture")
    with (
        pytest.raises(FixtureError, match="The fixture is not there"),
        attached_fixture(station, SystemClock()),
    ):
        raise AssertionError("it was held")
    bench.tell("plug fixture")


def test_without_tables_the_operators_hands_are_the_fixture() -> None:
    station, _ = simulated_station()
    with attached_fixture(station, SystemClock()) as fixture:
        assert isinstance(fixture, ManualFixture)
    assert attached_scanner(station) is None


def test_the_doctor_asks_every_device_how_it_is(station: StationFile, bench: SerialBench) -> None:
    bench.tell("open")
    rows = list(device_rows(station, SystemClock()))
    assert [(what, remedy) for what, _, remedy in rows] == [
        ("fixture", ""), ("bias voltmeter", ""), ("turntable", ""), ("scanner", ""),
    ]  # fmt: skip
    assert [found.partition(": ")[2] for _, found, _ in rows][:3] == [
        "line-1, lid open, holds -", "0 V, safe below 30 V", "line-1, at 0.0°",
    ]  # fmt: skip
    bench.tell("close")


def test_the_doctor_says_what_is_missing_and_what_to_do(
    station: StationFile, bench: SerialBench
) -> None:
    for name in ("fixture", "turntable", "voltmeter", "scanner"):
        bench.tell(f"unplug {name}")
    rows = list(device_rows(station, SystemClock()))
    assert all(remedy for _, _, remedy in rows)
    for name in ("fixture", "turntable", "voltmeter", "scanner"):
        bench.tell(f"plug {name}")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("bias = true", "bias = false", "no model of [fixture] has bias = true"),
        ("ports/voltmeter", "ports/fixture", "is the port of the fixture already"),
        ("present_from_v = 2500.0", "present_from_v = 20.0", "above safe_v"),
        ('start = "scan"', 'start = "button"', "start_limit_s belongs to"),
    ],
)
def test_a_station_file_that_contradicts_itself_is_refused_at_its_line(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    text = example_text(Path("ports"))
    assert old in text
    path = tmp_path / "station.toml"
    path.write_text(text.replace(old, new))
    with pytest.raises(TextFileError, match=r"station\.toml:") as caught:
        station_file(path)
    assert any(told in fault for fault in caught.value.faults)
