"""Real serial calls against devices in another process, through pseudo-terminals."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from station.errors import FixtureError
from station.hardware.attached.biasvoltmeter import ScpiBiasVoltmeter
from station.hardware.attached.serialscanner import SerialScanner
from station.hardware.attached.serialturntable import SerialTurntable
from station.hardware.files.serialtables import TurntableTable, VoltmeterTable
from station.hardware.ports.serialport import PortLostError, SerialPort
from station.hardware.protocols.clock import SystemClock
from tests.hardware.attached.test_serialfixture import VOLTMETER
from tests.hardware.serialbench import BAUD, SerialBench, serial_bench

PATIENCE_S = 20.0


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SerialBench]:
    with serial_bench(tmp_path_factory.mktemp("ports")) as running:
        yield running


@pytest.fixture(autouse=True)
def clean(bench: SerialBench) -> Iterator[None]:
    yield
    for name in ("fixture", "turntable", "voltmeter"):
        bench.tell(f"line {name} clean 0")
    bench.tell("close")


@pytest.mark.parametrize("fault", ["garbage 0", "doubled 0", "slow 0.1", "in_pieces 0.001"])
def test_a_bad_line_that_lets_answers_through_changes_nothing(
    bench: SerialBench, fault: str
) -> None:
    with bench.fixture() as fixture:
        bench.tell(f"line fixture {fault}")
        fixture.secure("T2A00001", "Tarn 2")
        assert fixture.state().relays == 1
        fixture.release()
        assert not fixture.state().locked
        bench.tell("open")
        assert not fixture.lid_closed()


@pytest.mark.parametrize(
    ("fault", "happened"),
    [
        ("silent 0", "does not answer"),
        ("cut 0", "cannot be understood"),
        ("nothing_but_garbage 0", "cannot be understood"),
        ("slow 30", "does not answer"),
    ],
)
def test_a_line_that_lets_nothing_through_is_told_in_time(
    bench: SerialBench, fault: str, happened: str
) -> None:
    with bench.fixture(answer_limit_s=0.1) as fixture:
        bench.tell(f"line fixture {fault}")
        began_s = SystemClock().monotonic_s()
        with pytest.raises(FixtureError, match=happened):
            fixture.secure("T2A00001", "Tarn 2")
        assert SystemClock().monotonic_s() - began_s < PATIENCE_S


def test_the_wrong_fixture_of_two_is_told(bench: SerialBench, tmp_path: Path) -> None:
    with (
        serial_bench(tmp_path / "second", "line-2") as second,
        second.fixture() as wrong,
        bench.fixture() as right,
    ):
        assert right.lid_closed()
        with pytest.raises(FixtureError, match='there is the fixture "line-2"'):
            wrong.lid_closed()


def test_a_lid_that_opens_is_told_without_being_asked_for(bench: SerialBench) -> None:
    causes: list[FixtureError] = []
    told = threading.Event()

    def on_unsafe(cause: FixtureError) -> None:
        causes.append(cause)
        told.set()

    # It would ask only once in a second: the unasked line is what tells.
    with bench.fixture(watch_interval_s=1.0) as fixture, fixture.watched(on_unsafe):
        bench.tell("open")
        assert told.wait(PATIENCE_S)
    assert causes[0].happened == "The fixture lid was opened while the sweep played."


@pytest.mark.parametrize("trouble", ["unplug fixture", "line fixture silent 0"])
def test_a_fixture_that_is_lost_in_mid_sweep_is_told_and_found_again(
    bench: SerialBench, trouble: str
) -> None:
    told = threading.Event()
    with bench.fixture(answer_limit_s=0.1) as fixture:
        with fixture.watched(lambda _cause: told.set()):
            bench.tell(trouble)
            assert told.wait(PATIENCE_S)
        if trouble.startswith("unplug"):
            with pytest.raises(FixtureError, match="not there"):
                fixture.lid_closed()
            bench.tell("plug fixture")
        bench.tell("line fixture clean 0")
        assert fixture.lid_closed()


def test_an_opening_between_two_looks_is_told_at_the_end(bench: SerialBench) -> None:
    causes: list[FixtureError] = []
    with bench.fixture() as fixture, fixture.watched(causes.append):
        bench.tell("open unheard")
        bench.tell("close")
    assert len(causes) == 1


def test_a_port_that_another_program_holds_is_told(bench: SerialBench) -> None:
    held = bench.port("fixture")()
    try:
        with bench.fixture() as fixture, pytest.raises(FixtureError, match="cannot be used"):
            fixture.lid_closed()
    finally:
        held.close()


def test_a_port_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(PortLostError):
        SerialPort(str(tmp_path / "none"), BAUD)


def test_the_turntable_turns_and_says_where_it_is(bench: SerialBench) -> None:
    table = TurntableTable(
        port=str(bench.folder / "turntable"), baud=BAUD, answer_limit_s=2.0, tries=2,
        name="line-1", tolerance_deg=0.2, turn_limit_s=10.0,
    )  # fmt: skip
    turntable = SerialTurntable(table, bench.port("turntable"), SystemClock())
    turntable.turn_to(-15.0)
    assert turntable.angle_deg() == -15.0
    turntable.close()


def test_the_voltmeter_is_read_and_late_answers_are_not_taken_for_new_ones(
    bench: SerialBench,
) -> None:
    voltmeter = ScpiBiasVoltmeter(VOLTMETER, bench.port("voltmeter"), SystemClock())
    assert voltmeter.voltage_v() == 0.0
    bench.tell("line voltmeter doubled 0")
    with pytest.raises(FixtureError, match=r"no bias voltmeter|as it should"):
        voltmeter.voltage_v()
    bench.tell("line voltmeter clean 0")
    assert voltmeter.voltage_v() == 0.0
    voltmeter.close()


def test_another_instrument_is_told_by_its_own_words(bench: SerialBench) -> None:
    table = VoltmeterTable.model_validate(VOLTMETER.model_dump() | {"identity": "Other"})
    voltmeter = ScpiBiasVoltmeter(table, bench.port("voltmeter"), SystemClock())
    with pytest.raises(FixtureError, match="but 'Simulated voltmeter,0,1'"):
        voltmeter.voltage_v()


def test_labels_are_scanned_one_by_one_and_an_unplugged_scanner_is_waited_for(
    bench: SerialBench,
) -> None:
    scanner = SerialScanner(bench.port("scanner"))
    scanner.check()
    bench.tell("scan T2A00001 T2A00002")
    assert [scanner.next_serial(), scanner.next_serial()] == ["T2A00001", "T2A00002"]
    scanner.end()
    assert scanner.next_serial() is None


def test_half_a_label_is_not_put_before_the_next_one() -> None:
    near, far = os.openpty()

    class Halves(SerialPort):
        """Sends the next label only after nothing has come for a while."""

        def read(self, limit_s: float) -> bytes:
            received = super().read(min(limit_s, 0.01))
            if not received:
                os.write(near, b"T2A00002\r")
            return received

    scanner = SerialScanner(lambda: Halves(os.ttyname(far), BAUD))
    scanner.check()
    os.write(near, b"T2A0")
    assert scanner.next_serial() == "T2A00002"
    scanner.close()
    os.close(near)
    os.close(far)
