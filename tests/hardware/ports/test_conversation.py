"""Answers are believed only if they belong to the question, and every wait ends."""

from __future__ import annotations

import pytest

from station.errors import FixtureError
from station.hardware.ports.conversation import Conversation, Party
from station.simulation.bench.controller import SimulatedController
from station.simulation.bench.instruments import SimulatedTurntable
from tests.hardware.wires import Wire, WireClock, conversation_on


def wire_to(controller: SimulatedController | None = None) -> Wire:
    return Wire(controller or SimulatedController("line-1"), WireClock())


def test_a_request_is_answered_with_facts_after_the_greeting() -> None:
    talk = conversation_on(wire_to())
    assert talk.ask("STATE")["lid"] == "closed"
    assert talk.greeting == {"fixture": "line-1", "protocol": "1"}


def test_a_refusal_is_told_in_the_devices_words() -> None:
    talk = conversation_on(wire_to(SimulatedController("line-1", lid_open=True)))
    with pytest.raises(FixtureError, match="refuses CLAMP: lid open"):
        talk.ask("CLAMP", "on")


def test_another_fixture_on_the_port_is_told_by_name() -> None:
    talk = conversation_on(wire_to(SimulatedController("line-2")))
    with pytest.raises(FixtureError, match='there is the fixture "line-2"'):
        talk.ask("STATE")


def test_another_kind_of_device_on_the_port_is_told() -> None:
    talk = conversation_on(Wire(SimulatedTurntable("line-1"), WireClock()))
    with pytest.raises(FixtureError, match="no fixture but a turntable"):
        talk.ask("STATE")


def test_another_version_of_the_protocol_is_refused() -> None:
    class Newer(SimulatedController):
        def done(self, verb: str, arguments: list[str]) -> str:
            return "OK fixture=line-1 protocol=2"

    with pytest.raises(FixtureError, match="speaks protocol 2"):
        conversation_on(wire_to(Newer("line-1"))).ask("STATE")


def test_silence_ends_after_the_tries() -> None:
    wire = wire_to(SimulatedController("line-1", deaf=True))
    with pytest.raises(FixtureError, match="does not answer"):
        conversation_on(wire).ask("STATE")
    assert wire.clock.now_s < 2 * 0.5 + 0.01


def test_a_flood_of_garbage_ends_in_time_and_is_told_apart_from_silence() -> None:
    wire = wire_to()

    class Flood(Wire):
        def read(self, limit_s: float) -> bytes:
            self.clock.wait(0.001)
            return b"\xaa" * 100

    flood = Flood(wire.device, wire.clock)
    with pytest.raises(FixtureError, match="cannot be understood"):
        conversation_on(flood).ask("STATE")
    assert flood.clock.now_s < 2 * 0.5 + 0.01


def test_half_an_answer_is_asked_for_again() -> None:
    wire = wire_to()
    talk = conversation_on(wire)
    talk.ask("STATE")
    wholes = iter([False, True])
    wire.mangled = lambda sent: sent if next(wholes) else sent[:20]
    assert talk.ask("STATE")["lid"] == "closed"


def test_silence_after_a_good_answer_is_told_as_silence() -> None:
    controller = SimulatedController("line-1")
    talk = conversation_on(wire_to(controller))
    talk.ask("STATE")
    controller.deaf = True
    with pytest.raises(FixtureError, match="does not answer"):
        talk.ask("STATE")


def test_doubled_and_late_answers_never_answer_another_question() -> None:
    controller = SimulatedController("line-1", lid_open=True)
    wire = wire_to(controller)
    talk = conversation_on(wire)
    wire.mangled = lambda sent: sent * 3
    assert talk.ask("STATE")["lid"] == "open"
    controller.lid_open = False
    assert talk.ask("STATE")["lid"] == "closed"
    kept: list[bytes] = []

    def one_late(sent: bytes) -> bytes:
        kept.append(sent)
        return kept[-2] if len(kept) > 1 else b""

    wire.mangled = one_late
    with pytest.raises(FixtureError, match="cannot be understood"):
        talk.ask("STATE")


def test_a_cable_that_was_unplugged_is_told_and_used_again_when_it_is_back() -> None:
    wire = wire_to()
    talk = conversation_on(wire)
    talk.ask("STATE")
    wire.unplugged = True
    with pytest.raises(FixtureError, match="not there"):
        talk.ask("STATE")
    wire.unplugged = False
    assert talk.ask("STATE")["lid"] == "closed"
    assert talk.sessions == 2


def test_what_is_said_unasked_is_handed_over_while_listening() -> None:
    controller = SimulatedController("line-1")
    wire = wire_to(controller)
    said: list[tuple[str, ...]] = []
    party = Party("fixture", "line-1", "/dev/nowhere", 0.5, 1)
    talk = Conversation(party, wire.open, wire.clock, said.append)
    talk.ask("STATE")
    wire.pending = controller.open_lid()
    talk.listen(0.05)
    assert said == [("LID", "open")]
