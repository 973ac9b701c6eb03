"""What the operator does decides what happens on the simulated line."""

from __future__ import annotations

from station.simulation.factory.line import LineState, SimulatedLine
from station.simulation.factory.repairs import NAMED, advice_leads_to
from station.simulation.factory.shift import Rates, Shift
from station.simulation.faults import FAULTS

CALM = Shift(5, 12, Rates(faulty_ratio=0.0, trouble_ratio=0.0, bang_ratio=0.0, mended_ratio=1.0))
ALL_TROUBLE = Shift(5, 12, Rates(faulty_ratio=0.0, trouble_ratio=1.0, bang_ratio=0.0))
SWAP_LEADS = "Tweeter leads reversed: swap red and black at the tweeter."
WRONG = "Woofer resonance off: check box sealing."


def passed_on(state: LineState, units: int) -> LineState:
    for _ in range(units):
        state = state.after(state.waiting, "pass", "")
    return state


def test_a_passed_unit_makes_room_for_the_next() -> None:
    state = LineState(CALM)
    assert state.waiting == CALM.serial_at(0)
    assert passed_on(state, 3).waiting == CALM.serial_at(3)


def test_a_failed_unit_makes_room_too_and_a_void_one_stays() -> None:
    state = passed_on(LineState(CALM), 1)
    assert state.after(state.waiting, "fail", "").waiting == CALM.serial_at(2)
    assert state.after(state.waiting, "void", "").waiting == state.waiting


def test_another_unit_than_the_one_that_waits_changes_nothing_in_the_row() -> None:
    state = passed_on(LineState(CALM), 1)
    assert state.after("T2A00101", "pass", "").waiting == state.waiting


def test_a_failed_unit_is_repaired_if_the_advice_names_its_part() -> None:
    state = LineState(CALM, planted={"T2A00102": {"reversed_tweeter": 1.0}})
    assert state.faults_on_bench("T2A00102") == {"reversed_tweeter": 1.0}
    assert state.after("T2A00102", "fail", SWAP_LEADS).faults_on_bench("T2A00102") == {}
    assert state.after("T2A00102", "fail", WRONG).faults_on_bench("T2A00102") != {}


def test_a_passed_unit_is_not_repaired() -> None:
    state = LineState(CALM, planted={"T2A00102": {"reversed_tweeter": 1.0}})
    assert state.after("T2A00102", "pass", SWAP_LEADS).faults_on_bench("T2A00102") != {}


def test_a_repair_may_fail_and_the_next_one_succeed() -> None:
    clumsy = Shift(5, 12, Rates(mended_ratio=0.5))
    state = LineState(clumsy, planted={"T2A00102": {"reversed_tweeter": 1.0}})
    needed = 0
    while "reversed_tweeter" in state.faults_on_bench("T2A00102"):
        state = state.after("T2A00102", "fail", SWAP_LEADS)
        needed += 1
        assert needed < 20
    outcomes = [clumsy.mends("T2A00102", number) for number in range(needed)]
    assert outcomes == [False] * (needed - 1) + [True]


def test_a_repair_needs_advice_for_every_fault_there_is() -> None:
    two = {"reversed_tweeter": 1.0, "low_bias": 0.2}
    state = LineState(CALM, planted={"T2A00102": two})
    assert state.after("T2A00102", "fail", SWAP_LEADS).faults_on_bench("T2A00102") == two


def test_a_trouble_of_the_station_stays_until_a_void_tells_of_it() -> None:
    state = passed_on(LineState(ALL_TROUBLE), 1)
    assert state.trouble
    later = passed_on(state, 2)
    assert later.trouble == state.trouble
    assert later.after(later.waiting, "void", "").trouble == {}


def test_a_failing_reference_unit_has_the_station_mended() -> None:
    shift = Shift(5, 12, Rates(trouble_ratio=1.0, reference_every=3))
    state = passed_on(LineState(shift), 3)
    assert state.waiting.endswith("00000")
    assert state.trouble
    mended = state.after(state.waiting, "fail", "")
    assert mended.trouble == {}
    assert mended.waiting == state.waiting  # and it has to come again


def test_a_planted_trouble_is_gone_after_its_void() -> None:
    state = LineState(CALM, planted={"T2A00105": {"station_silent_microphone": 1.0}})
    assert state.faults_on_bench("T2A00105") == {"station_silent_microphone": 1.0}
    assert state.after("T2A00105", "void", "").faults_on_bench("T2A00105") == {}


def test_a_trouble_that_a_model_cannot_have_leaves_its_units_alone() -> None:
    state = LineState(CALM, trouble={"station_early_bias": 3.0})
    assert state.faults_on_bench("T2A00300") == {}
    assert state.faults_on_bench("F6A00300") == {"station_early_bias": 3.0}


def test_a_bang_belongs_to_a_scan() -> None:
    loud = Shift(5, 12, Rates(faulty_ratio=0.0, trouble_ratio=0.0, bang_ratio=0.5))
    state, heard = LineState(loud), []
    for _ in range(40):
        heard.append("station_bang" in state.faults_on_bench(state.waiting))
        state = state.after(state.waiting, "pass", "")
    assert heard == [bool(loud.bang_at(scan)) for scan in range(40)]
    assert 8 < sum(heard) < 32


def test_every_fault_of_a_unit_can_be_repaired_by_some_advice() -> None:
    of_units = {fault.name for fault in FAULTS if not fault.name.startswith("station_")}
    assert set(NAMED) == of_units
    for fault, parts in NAMED.items():
        assert advice_leads_to(fault, f"Check the {parts[0]}.")
        assert not advice_leads_to(fault, "Take the unit out.")


def test_advice_is_understood_whatever_its_letters() -> None:
    assert advice_leads_to("low_bias", "BIAS too low")


def test_a_line_keeps_its_state_for_devices_and_screen() -> None:
    line = SimulatedLine(LineState(CALM, planted={"T2A00102": {"reversed_tweeter": 1.0}}))
    first = line.waiting()
    assert line.conditions_of(first).temperature_c == CALM.temperature_c(0)
    line.tell(first, "pass", "")
    assert line.waiting() != first
    assert line.conditions_of(first).temperature_c == CALM.temperature_c(1)
    line.tell("T2A00102", "fail", SWAP_LEADS)
    assert line.faults_of("T2A00102") == {}
