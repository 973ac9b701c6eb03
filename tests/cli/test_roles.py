"""Who may do what: by PIN, by badge, and not at all."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from station.cycle.allowed.authority import LOCKED, TRIES, Authority
from station.cycle.allowed.rights import Right
from station.errors import NotAllowedError
from station.records.log.log import RunLog
from tests.cli.works import ENGINEER, ENGINEER_PIN, Works
from tests.cycle.line import BEGIN_UTC

PASS, REFUSED = 0, 2
SHIPPED = resources.files("station.simulation.bench").joinpath("station.toml").read_text("utf-8")
WITH_ROLES = SHIPPED + '\n[roles]\nbadge = "OP-[0-9]{4}"\n'


def with_roles(works: Works) -> tuple[str, Path]:
    return "--station-file", works.file("line.toml", WITH_ROLES)


def test_an_operator_releases_nothing(works: Works) -> None:
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    path = works.limits / "fell60.toml"
    shown = works.release(path, works.key, *works.by("J. Moor", "123456"))
    told = "J. Moor is an operator: releasing limits needs an engineer."
    assert shown.code == REFUSED
    assert told in shown.err
    assert works.refusals() == [told]
    assert not path.with_suffix(".release").exists()


@pytest.mark.parametrize("role", ["operator", "technician"])
def test_nobody_but_an_engineer_trusts_a_key_or_enrols_people(works: Works, role: str) -> None:
    pin = "" if role == "operator" else "765432"
    assert works.add("J. Moor", role, "--badge", "OP-0417", *works.by(), pin=pin).code == PASS
    key = works.make_key()
    by = works.by("J. Moor", pin or "123456")
    assert "trusting a key needs an engineer." in works.trust(key, *by).err
    friend = works.add("K. Low", "engineer", *by, pin="999999")
    assert friend.code == REFUSED
    assert "enrolling people needs an engineer." in friend.err
    alone = works.add("K. Low", "engineer", pin="999999")
    assert "Enrolling people needs an engineer. Say who with --by NAME." in alone.err
    assert "K. Low" not in works.run("people", "list").out
    assert len(works.refusals()) == 2


def test_a_stranger_is_refused_and_logged(works: Works) -> None:
    shown = works.trust(works.make_key(), *works.by("Nobody", "123456"))
    assert "Nobody is enrolled as 'Nobody'." in shown.err
    assert works.refusals() == ["Nobody is enrolled as 'Nobody'."]


def test_wrong_pins_lock_the_right_one_out(works: Works) -> None:
    key = works.make_key()
    for left in (4, 3, 2, 1):
        assert f"{left} wrong ones more lock it" in works.trust(key, *works.by(pin="000000")).err
    assert "It is locked for 15 minutes now." in works.trust(key, *works.by(pin="000000")).err
    shown = works.trust(key)
    assert shown.code == REFUSED
    assert f"The PIN of {ENGINEER} is locked after 5 wrong ones. Wait until " in shown.err
    assert len(works.run("keys", "list").out.splitlines()) == 3  # one key, as before
    acts = [act["act"] for act in works.run("people", "acts", "--json").runs()]
    assert acts[-11:] == [*["wrong_pin", "refused"] * 5, "refused"]


def test_a_lock_opens_with_time_and_a_right_pin_begins_the_count_anew(works: Works) -> None:
    class SetClock:
        now = BEGIN_UTC

        def utc_now(self) -> Any:
            return self.now

        def monotonic_s(self) -> float:
            return 0.0

        def wait(self, seconds: float) -> None:
            raise AssertionError("nobody waits here")

    clock, numbers = SetClock(), iter(range(1000))
    with RunLog.open(works.database.parent) as log:
        authority = Authority(log, clock, lambda: f"a{next(numbers)}")

        def tried(pin: str) -> bool:
            try:
                return authority.authorised(ENGINEER, pin, Right.TRUST).name == ENGINEER
            except NotAllowedError:
                return False

        assert not any(tried("000000") for _ in range(TRIES - 1))
        assert tried(ENGINEER_PIN)
        assert not any(tried("000000") for _ in range(TRIES))
        assert not tried(ENGINEER_PIN)
        clock.now = BEGIN_UTC + LOCKED * 0.99
        assert not tried(ENGINEER_PIN)
        clock.now = BEGIN_UTC - LOCKED  # a clock that was put back opens nothing
        assert not tried(ENGINEER_PIN)
        clock.now = BEGIN_UTC + LOCKED
        assert not any(tried("000000") for _ in range(TRIES))
        assert not tried(ENGINEER_PIN)
        clock.now = BEGIN_UTC + LOCKED * 2
        assert tried(ENGINEER_PIN)


def test_without_roles_nobody_signs_in(works: Works) -> None:
    assert works.test("T2A00901", "--trial").code == PASS
    shown = works.test("T2A00901", "--trial", "--badge", "OP-0417")
    assert "This station has no roles, so nobody signs in." in shown.err


def test_with_roles_a_unit_is_tested_by_who_has_signed_in(works: Works) -> None:
    roles = with_roles(works)
    shown = works.test("T2A00901", *roles)
    assert shown.code == REFUSED
    assert "Nobody has signed in. Scan your badge, then the unit." in shown.err
    unknown = works.test("T2A00901", *roles, "--badge", "OP-0417")
    assert unknown.code == REFUSED
    assert "The badge OP-0417 belongs to nobody who is enrolled." in unknown.err
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    tested = works.test("T2A00901", *roles, "--badge", "OP-0417")
    assert tested.code == PASS
    assert "operator J. Moor" in tested.out
    (run,) = works.run("history", "T2A00901", "--json").runs()
    assert run["operator"] == {"name": "J. Moor", "badge": "OP-0417"}
    acts = works.run("people", "acts", "--json").runs()
    assert [act["act"] for act in acts][-2:] == ["enrolled", "signed_in"]
    assert works.run("people", "remove", "J. Moor", *works.by()).code == PASS
    assert works.test("T2A00901", *roles, "--badge", "OP-0417").code == REFUSED


def test_an_operator_cannot_turn_a_refusal_into_a_trial(works: Works) -> None:
    roles = with_roles(works)
    (works.limits / "tarn2.release").unlink()
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    refused = works.test("T2A00901", *roles, "--badge", "OP-0417")
    assert "tarn2.toml is not released" in refused.err
    nobody = works.test("T2A00901", *roles, "--trial", "--badge", "OP-0417")
    assert "A trial needs a technician or an engineer." in nobody.err
    operator = works.test("T2A00901", *roles, "--trial", *works.by("J. Moor", "123456"))
    assert operator.code == REFUSED
    assert "J. Moor is an operator: a trial needs a technician or an engineer." in operator.err
    assert works.test("T2A00901", *roles, "--trial", *works.by()).code == PASS


def test_with_roles_a_calibration_needs_a_pin(works: Works) -> None:
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    asked = ("calibrate", "microphone", "--level", "94", "--temperature", "21", *with_roles(works))
    refused = works.run(*asked, *works.by("J. Moor", "123456"))
    assert refused.code == REFUSED
    assert "calibrating needs a technician or an engineer." in refused.err
    assert works.run(*asked, *works.by()).code == PASS
    assert works.run(*asked, *works.by(pin="000000")).code == REFUSED


def test_with_roles_a_service_test_needs_a_pin(works: Works) -> None:
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    where = ("--limits-folder", works.limits, *with_roles(works))
    opened = works.run("service", "open", "T2A00901", "--by", "J. Moor", *where)
    assert opened.code == PASS  # looking up and taking notes needs none
    asked = ("service", "test", "T2A00901", *where)
    refused = works.run(*asked, *works.by("J. Moor", "123456"))
    assert refused.code == REFUSED
    assert "J. Moor is an operator: a service test needs a technician or an engineer." in (
        refused.err
    )
    assert works.run(*asked, *works.by()).code == PASS


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("K. Low", "operator"), "An operator signs in by a badge."),
        (("K. Low", "operator", "--badge", "OP-0417"), "The badge OP-0417 belongs to J. Moor."),
        ((" K. Low", "operator", "--badge", "OP-1"), "' K. Low' is no name."),
        ((ENGINEER, "operator", "--badge", "OP-1"), f"{ENGINEER} is the only engineer"),
    ],
)
def test_a_person_that_could_not_work_is_not_enrolled(
    works: Works, arguments: tuple[str, ...], told: str
) -> None:
    assert works.add("J. Moor", "operator", "--badge", "OP-0417", *works.by()).code == PASS
    shown = works.add(arguments[0], *arguments[1:], *works.by())
    assert shown.code == REFUSED
    assert told in shown.err


def test_the_first_person_is_an_engineer_with_a_long_enough_pin(
    tmp_path: Path, station: Any
) -> None:
    works = Works(tmp_path, station)
    first = works.add("J. Moor", "operator", "--badge", "OP-0417")
    assert "The first to be enrolled is an engineer." in first.err
    short = works.add(ENGINEER, "engineer", pin="1234")
    assert "The PIN is shorter than 6 characters." in short.err
    assert "Nobody is enrolled." in works.run("people", "list").out


def test_no_pin_stands_in_the_log_or_on_the_screen(works: Works) -> None:
    assert works.trust(works.make_key()).code == PASS
    shown = works.run("people", "acts").out + works.run("people", "acts", "--json").out
    assert "argon2" not in shown
    contents = b"".join(path.read_bytes() for path in works.database.parent.glob("station.db*"))
    assert ENGINEER_PIN.encode() not in contents
    assert b"$argon2id$" in contents
