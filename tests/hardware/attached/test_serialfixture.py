"""The fixture's driver against its simulated controller, whatever the wire does."""

from __future__ import annotations

import threading

import pytest

from station.errors import FixtureError, StoppedError
from station.hardware.attached.biasvoltmeter import BiasWatch, ScpiBiasVoltmeter
from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.files.serialtables import FixtureTable, VoltmeterTable
from station.simulation.bench.controller import SimulatedController
from station.simulation.bench.instruments import SimulatedVoltmeter
from tests.hardware.serialnoise import Noise
from tests.hardware.wires import FIXTURE, Wire, WireClock, fixture_on

VOLTMETER = VoltmeterTable.model_validate(
    {
        "port": "/dev/elsewhere",
        "baud": 9600,
        "answer_limit_s": 0.5,
        "tries": 2,
        "identity": "Simulated voltmeter",
        "ratio": 1000.0,
        "safe_v": 50.0,
        "present_from_v": 2500.0,
        "rise_limit_s": 10.0,
        "decay_limit_s": 20.0,
    }
)


def wire_to(controller: SimulatedController) -> Wire:
    return Wire(controller, WireClock())


def biased(
    voltmeter: SimulatedVoltmeter, controller: SimulatedController | None = None
) -> tuple[SerialFixture, SimulatedController]:
    controller = controller or SimulatedController("line-1", unit_type="F6")
    controller.bias_supply = voltmeter.switch
    wire = wire_to(controller)
    instrument = ScpiBiasVoltmeter(VOLTMETER, Wire(voltmeter, wire.clock).open, wire.clock)
    watch = BiasWatch(instrument, VOLTMETER, wire.clock)
    return SerialFixture(FIXTURE, wire.open, wire.clock, watch), controller


def test_a_unit_is_locked_in_clamped_connected_and_let_go() -> None:
    controller = SimulatedController("line-1", clamp_looks=3)
    fixture = fixture_on(wire_to(controller))
    fixture.secure("T2A00001", "Tarn 2")
    assert (controller.locked, controller.clamped, controller.relays) == (True, True, 1)
    fixture.release()
    assert (controller.locked, controller.clamped, controller.relays) == (False, False, 0)


def test_an_open_lid_is_refused_before_anything_moves() -> None:
    controller = SimulatedController("line-1", lid_open=True)
    with pytest.raises(FixtureError, match="lid is open"):
        fixture_on(wire_to(controller)).secure("T2A00001", "Tarn 2")
    assert not controller.clamped


def test_a_model_without_a_place_is_refused() -> None:
    with pytest.raises(FixtureError, match="no place for a Scree 12"):
        fixture_on(wire_to(SimulatedController("line-1"))).secure("S12A00001", "Scree 12")


@pytest.mark.parametrize(
    ("unit_type", "happened"), [("T2", r"holds something else \(T2\)"), ("-", "is empty")]
)
def test_a_unit_that_is_not_the_labels_is_refused(unit_type: str, happened: str) -> None:
    controller = SimulatedController("line-1", unit_type=unit_type)
    with pytest.raises(FixtureError, match=happened):
        fixture_on(wire_to(controller)).secure("F6A00001", "Fell 60")
    assert controller.relays == 0


@pytest.mark.parametrize(
    ("fault", "happened"),
    [({"clamp_stuck": True}, "does not come to rest"), ({"relays_stuck": True}, "RELAYS 1")],
)
def test_what_does_not_move_is_told_and_undone(fault: dict[str, bool], happened: str) -> None:
    controller = SimulatedController("line-1", **fault)  # type: ignore[arg-type]
    with pytest.raises(FixtureError, match=happened):
        fixture_on(wire_to(controller)).secure("T2A00001", "Tarn 2")
    assert controller.relays == 0


def test_the_bias_is_seen_to_come_and_to_go() -> None:
    voltmeter = SimulatedVoltmeter()
    fixture, controller = biased(voltmeter)
    fixture.secure("F6A00001", "Fell 60")
    assert controller.bias_on
    assert voltmeter.bias_v >= 2500.0
    fixture.release()
    assert not controller.bias_on
    assert voltmeter.bias_v < 50.0
    assert not controller.locked


def test_a_bias_that_does_not_decay_keeps_the_lid_locked() -> None:
    voltmeter = SimulatedVoltmeter()
    fixture, controller = biased(voltmeter)
    fixture.secure("F6A00001", "Fell 60")
    voltmeter.remaining_ratio = 1.0
    for _again in range(2):  # asking again opens no lid either
        with pytest.raises(FixtureError, match="there are still") as caught:
            fixture.release()
        assert "Do not open the lid" in caught.value.remedy
        assert controller.locked
        assert not controller.bias_on


def test_a_voltmeter_with_a_broken_lead_proves_nothing() -> None:
    voltmeter = SimulatedVoltmeter(broken_lead=True)
    fixture, controller = biased(voltmeter)
    with pytest.raises(FixtureError, match="reads 0 V"):
        fixture.secure("F6A00001", "Fell 60")
    assert controller.locked
    assert not controller.bias_on
    with pytest.raises(FixtureError, match="never showed the bias"):
        fixture.release()


def test_a_bias_that_is_there_before_it_was_switched_on_is_told() -> None:
    voltmeter = SimulatedVoltmeter(bias_v=2000.0, remaining_ratio=1.0)
    fixture, controller = biased(voltmeter)
    with pytest.raises(FixtureError, match="2000 V of bias before"):
        fixture.secure("F6A00001", "Fell 60")
    assert not controller.bias_on


def test_a_bias_left_on_by_an_earlier_program_is_switched_off_before_the_lid_unlocks() -> None:
    controller = SimulatedController("line-1", locked=True, clamped=True, relays=2, bias_on=True)
    fixture = fixture_on(wire_to(controller))
    fixture.release()
    assert not controller.bias_on
    assert not controller.locked


def test_falling_safe_cuts_bias_and_relays_and_leaves_the_lock() -> None:
    fixture, controller = biased(SimulatedVoltmeter())
    fixture.secure("F6A00001", "Fell 60")
    fixture.fall_safe()
    assert (controller.bias_on, controller.relays, controller.locked) == (False, 0, True)


class Hooked(SimulatedController):
    """A controller that lets a test act after one request was carried out."""

    __slots__ = ("hook",)

    def done(self, verb: str, arguments: list[str]) -> str:
        answer = super().done(verb, arguments)
        self.hook(" ".join([verb, *arguments]))
        return answer


@pytest.mark.parametrize("before", ["LOCK on", "CLAMP on", "RELAYS 2"])
def test_nothing_is_switched_on_any_more_once_everything_was_switched_off(before: str) -> None:
    switched: list[bool] = []
    controller = Hooked("line-1", unit_type="F6", bias_supply=switched.append)
    fixture = fixture_on(wire_to(controller))

    def press(request: str) -> None:
        if request == before:
            fixture._off.set()  # as the key does first; its SAFE then waits for the line

    controller.hook = press
    fixture.await_start(threading.Event(), lambda: None)
    with pytest.raises(StoppedError):
        fixture.secure("F6A00001", "Fell 60")
    assert True not in switched
    assert (controller.relays, controller.bias_on) == (0, False)
    controller.hook = lambda _request: None
    fixture.await_start(threading.Event(), lambda: None)
    fixture.secure("F6A00001", "Fell 60")
    assert controller.bias_on


def test_a_start_sees_a_stop_that_came_before_it() -> None:
    stop = threading.Event()
    stop.set()
    with pytest.raises(StoppedError):
        fixture_on(wire_to(SimulatedController("line-1"))).await_start(stop, lambda: None)


class Pressed(SimulatedController):
    """Somebody closes the lid at the third look and presses start at the fifth."""

    def state_words(self) -> str:
        self.looks = getattr(self, "looks", 0) + 1
        if self.looks == 3:
            self.close_lid()
        if self.looks == 5:
            self.press_start()
        return super().state_words()


BUTTON = FixtureTable.model_validate(
    FIXTURE.model_dump() | {"start": "button", "start_limit_s": 60.0}
)


def test_the_start_button_is_waited_for() -> None:
    told: list[str] = []
    fixture = fixture_on(wire_to(Pressed("line-1", lid_open=True)), BUTTON)
    fixture.await_start(threading.Event(), lambda: told.append("waiting"))
    assert told == ["waiting"]
    assert fixture.lid_closed()


def test_a_start_that_never_comes_ends_the_wait_and_so_does_a_stop() -> None:
    fixture = fixture_on(wire_to(SimulatedController("line-1")), BUTTON)
    with pytest.raises(FixtureError, match="Nobody pressed"):
        fixture.await_start(threading.Event(), lambda: None)
    stop = threading.Event()
    stop.set()
    with pytest.raises(StoppedError):
        fixture.await_start(stop, lambda: None)


def test_no_start_is_waited_for_where_the_scan_starts() -> None:
    fixture = fixture_on(wire_to(SimulatedController("line-1", deaf=True)))
    fixture.await_start(threading.Event(), lambda: pytest.fail("waited"))


def test_an_opening_that_nobody_heard_of_shows_at_the_end_of_the_watch() -> None:
    controller = SimulatedController("line-1")
    fixture = fixture_on(wire_to(controller))
    fixture.secure("T2A00001", "Tarn 2")
    causes: list[FixtureError] = []
    with fixture.watched(causes.append):
        controller.open_lid()  # its unasked line is lost
        controller.close_lid()
    assert len(causes) == 1
    assert causes[0].happened == "The fixture lid was opened while the sweep played."


def test_a_fixture_that_restarted_in_mid_sweep_is_no_longer_trusted() -> None:
    controller = SimulatedController("line-1")
    fixture = fixture_on(wire_to(controller))
    fixture.secure("T2A00001", "Tarn 2")
    causes: list[FixtureError] = []
    with fixture.watched(causes.append):
        controller.relays = 0  # as after power came back; openings start at 0 again
    assert [cause.happened for cause in causes] == [
        "The fixture cut the unit off while the sweep played."
    ]


def test_a_line_that_broke_and_came_back_in_mid_sweep_is_no_longer_trusted() -> None:
    wire = wire_to(SimulatedController("line-1"))
    fixture = fixture_on(wire)
    fixture.secure("T2A00001", "Tarn 2")
    causes: list[FixtureError] = []
    with fixture.watched(causes.append):
        wire.unplugged = True
        with pytest.raises(FixtureError):
            fixture.state()
        wire.unplugged = False
    assert causes


@pytest.mark.parametrize("words", ["OK lid=ajar", "OK", "OK lid=closed", "OK lid=closed lid=open"])
def test_a_state_that_is_not_told_whole_is_no_state(words: str) -> None:
    class Vague(SimulatedController):
        def state_words(self) -> str:
            return words

    with pytest.raises(FixtureError):
        fixture_on(wire_to(Vague("line-1"))).lid_closed()


def test_noise_on_the_wire_never_closes_an_open_lid() -> None:
    # The study of the same name goes through 100 000 lines.
    wire = wire_to(SimulatedController("line-1", lid_open=True))
    wire.mangled = Noise(5, keeps=0.3)
    fixture = fixture_on(wire)
    for _round in range(500):
        began_s = wire.clock.now_s
        with pytest.raises(FixtureError):
            fixture.secure("T2A00001", "Tarn 2")
        assert wire.clock.now_s - began_s < 5.0
    assert wire.mangled.lines > 500
