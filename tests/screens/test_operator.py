"""What the operator does with keys, and what the screen then says."""

from __future__ import annotations

import pytest

from station.screens.shared.curveplot import PlotMode
from station.screens.shared.dialogs import HelpScreen, QuitQuestion
from tests.screens.conftest import At
from tests.screens.fakecycle import (
    ANSWERS,
    BUG_SERIAL,
    ERROR_SERIAL,
    FAIL_SERIAL,
    FAILED,
    PASS_SERIAL,
    PASSED,
    VOID,
    VOID_SERIAL,
    FakeCycle,
)


async def test_the_screen_opens_ready_for_a_scan(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS), simulated=True) as operator:
        assert operator.word == "SCAN"
        assert operator.entry.has_focus
        assert "SIMULATED" in operator.lines[0]
        assert "Line 1" in operator.lines[0]


async def test_a_real_station_does_not_say_simulated(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        assert "SIMULATED" not in operator.text


@pytest.mark.parametrize(
    ("serial", "word", "next_step", "detail", "count"),
    [
        (PASS_SERIAL, "PASS", PASSED.next_step, "Response 0.8 dB inside its band", "1 passed"),
        (FAIL_SERIAL, "FAIL", FAILED.next_step, "Response 2.3 dB below the band", "1 failed"),
        (VOID_SERIAL, "VOID", VOID.next_step, "The microphone heard nothing.", "1 void"),
    ],
)
async def test_a_scan_ends_in_one_verdict_with_its_next_step(
    operator_at: At, serial: str, word: str, next_step: str, detail: str, count: str
) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(serial)
        assert operator.word == word
        assert next_step in operator.text
        assert detail in operator.text
        assert count in operator.lines[-1]
        assert f"{serial}   Tarn 2, revision A" in operator.lines[1]


async def test_after_a_verdict_the_entry_is_empty_and_takes_the_next_scan(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(PASS_SERIAL)
        assert operator.entry.has_focus
        assert operator.entry.value == ""
        await operator.test(FAIL_SERIAL)
        assert cycle.began == [PASS_SERIAL, FAIL_SERIAL]
        assert operator.word == "FAIL"


async def test_while_a_test_runs_the_last_verdict_is_gone(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(FAIL_SERIAL)
        assert "measured" in operator.text
        cycle.running.clear()
        cycle.gate.clear()
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        assert operator.word == "WAIT"
        assert operator.entry.disabled
        assert f"{PASS_SERIAL}   Tarn 2, revision A" in operator.lines[1]
        assert "The sweep is playing, and it is loud" in operator.text
        assert "50 %" in operator.text
        for gone in ("2.3 dB", "▼", "measured", FAILED.next_step):
            assert gone not in operator.text
        cycle.gate.set()
        await operator.settle()
        assert operator.word == "PASS"


async def test_a_burst_of_two_scans_tests_the_first_and_names_the_second(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(f"{PASS_SERIAL}\n{FAIL_SERIAL}")
        await operator.until_running(cycle)
        cycle.gate.set()
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]
        assert operator.word == "PASS"
        assert operator.entry.value == ""
        assert f"not tested: {FAIL_SERIAL}" in operator.lines[1]
        await operator.test(FAIL_SERIAL)
        assert cycle.began == [PASS_SERIAL, FAIL_SERIAL]
        assert "not tested" not in operator.text


@pytest.mark.parametrize("suffix", ["enter", "ctrl+j", "tab"])
async def test_every_common_suffix_of_scanners_starts_the_test(
    operator_at: At, suffix: str
) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL, suffix)
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]
        assert operator.entry.has_focus


async def test_a_serial_typed_by_hand_can_be_corrected(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.pilot.press(*PASS_SERIAL, "9", "backspace", "enter")
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]


async def test_keys_typed_while_a_test_runs_are_dropped(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.scan(FAIL_SERIAL)
        cycle.gate.set()
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]
        assert operator.entry.value == ""


async def test_an_unknown_serial_is_refused_and_nothing_is_tested(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(PASS_SERIAL)
        await operator.test("X99")
        assert operator.word == "SERIAL"
        assert "No limit file claims the serial number X99." in operator.text
        assert "Check the label." in operator.text
        assert cycle.began == [PASS_SERIAL]


async def test_markup_in_a_scan_is_shown_as_it_is(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test("[red]X[/red][/]")
        assert "[red]X[/red][/]" in operator.lines[1]
        assert "the serial number [red]X[/red][/]." in operator.text


async def test_an_overlong_scan_is_refused_with_a_sentence(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(PASS_SERIAL * 9)
        assert operator.word == "SERIAL"
        assert "far more than one serial number" in operator.text
        assert cycle.began == []


async def test_an_empty_line_changes_nothing(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(PASS_SERIAL)
        await operator.test("")
        assert operator.word == "PASS"
        assert cycle.began == [PASS_SERIAL]


async def test_a_station_error_is_no_verdict(operator_at: At, faults: list[BaseException]) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        await operator.test(ERROR_SERIAL)
        assert operator.word == "STATION"
        assert "Check its cable." in operator.text
        assert "The audio device stopped delivering." in operator.text
        assert "measured" not in operator.text
        assert faults == []


async def test_a_bug_is_a_station_fault_and_its_traceback_is_handed_over(
    operator_at: At, faults: list[BaseException]
) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        await operator.test(BUG_SERIAL)
        assert operator.word == "STATION"
        assert "says nothing about the unit" in operator.text
        [fault] = faults
        assert isinstance(fault, ZeroDivisionError)
        assert fault.__traceback__ is not None
        await operator.test(PASS_SERIAL)  # and the next unit works
        assert operator.word == "PASS"


async def test_a_bug_in_the_lookup_of_the_model_is_a_station_fault_too(
    operator_at: At, faults: list[BaseException]
) -> None:
    class Broken(FakeCycle):
        def model_of(self, serial: str) -> tuple[str, str]:
            raise KeyError(serial)

    async with operator_at(Broken(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        assert operator.word == "STATION"
        assert isinstance(faults[0], KeyError)


async def test_escape_stops_the_running_test(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, until_stopped=True)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("escape")
        await operator.settle()
        assert cycle.ended == [PASS_SERIAL]
        assert operator.word == "STOP"
        assert "Scan the unit again when it is ready." in operator.text
        assert operator.entry.has_focus


async def test_while_a_test_is_being_stopped_the_screen_says_so(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, until_stopped=True, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("escape")
        await operator.until(cycle.stopping)
        assert "Stopping: wait until the fixture is free." in operator.text
        assert "Storing" not in operator.text
        assert operator.entry.disabled
        cycle.gate.set()
        await operator.settle()
        assert operator.word == "STOP"


async def test_escape_without_a_test_changes_nothing(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        await operator.pilot.press("escape")
        assert operator.word == "PASS"
        assert operator.entry.has_focus


async def test_ctrl_q_quits_at_once_when_nothing_runs(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.pilot.press("ctrl+q")
        assert not operator.app.is_running


async def test_ctrl_q_asks_while_a_test_runs_and_no_goes_on(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("ctrl+q", "ctrl+q")
        assert isinstance(operator.app.screen, QuitQuestion)
        assert len(operator.app.screen_stack) == 2
        assert "Stop it and quit?" in operator.text
        await operator.pilot.press("n")
        cycle.gate.set()
        await operator.settle()
        assert operator.word == "PASS"
        assert operator.app.is_running


async def test_ctrl_q_and_yes_stops_the_test_and_waits_for_it(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, until_stopped=True)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("ctrl+q", "y")
        await operator.settle()
        assert cycle.ended == [PASS_SERIAL]
        assert not operator.app.is_running


async def test_help_shows_the_cautions_and_closes(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.pilot.press("f1")
        assert isinstance(operator.app.screen, HelpScreen)
        for caution in ("High voltage", "Loud sound", "Moving parts", "licence"):
            assert caution in operator.text
        await operator.pilot.press("f1")
        assert operator.word == "SCAN"
        assert operator.entry.has_focus


async def test_an_open_help_does_not_hide_the_verdict(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(FAIL_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("f1")
        cycle.gate.set()
        await operator.settle()
        assert operator.app.screen is operator.app.operator_screen
        assert FAILED.next_step in operator.text
        assert operator.entry.has_focus


async def test_a_scan_into_the_open_help_tests_nothing(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.pilot.press("f1")
        await operator.test(PASS_SERIAL)
        assert cycle.began == []
        assert operator.app.screen is operator.app.operator_screen
        await operator.test(PASS_SERIAL)
        assert cycle.began == [PASS_SERIAL]


async def test_f2_draws_with_braille_and_back(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)

        def has_braille() -> bool:
            return any(0x2800 < ord(character) <= 0x28FF for character in operator.text)

        assert not has_braille()
        await operator.pilot.press("f2")
        assert has_braille()
        await operator.pilot.press("f2")
        assert not has_braille()
    assert [mode.value for mode in PlotMode] == ["blocks", "braille"]


async def test_a_log_that_cannot_be_read_does_not_hide_the_verdict(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS, log_broken=True)) as operator:
        await operator.test(PASS_SERIAL)
        assert operator.word == "PASS"
        assert "Counters: the log cannot be read." in operator.lines[-1]


async def test_a_bug_in_the_counters_leaves_a_running_test_alone(
    operator_at: At, faults: list[BaseException]
) -> None:
    class Broken(FakeCycle):
        def shift_so_far(self) -> None:  # type: ignore[override]  # a bug
            raise ZeroDivisionError

    async with operator_at(Broken(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        assert operator.word == "PASS"
        assert "Counters: the log cannot be read." in operator.lines[-1]
        assert len(faults) == 2  # when it opened, and after the test


async def test_the_wide_screen_lists_the_last_units(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS), size=(120, 36)) as operator:
        await operator.test(PASS_SERIAL)
        await operator.test(FAIL_SERIAL)
        for line in ("Passed      1", "Failed      1", "FAIL T2A00018", "PASS T2A00017"):
            assert line in operator.text


@pytest.mark.parametrize("size", [(40, 10), (60, 20), (110, 30), (200, 50)])
async def test_any_terminal_size_shows_word_and_next_step(
    operator_at: At, size: tuple[int, int]
) -> None:
    async with operator_at(FakeCycle(ANSWERS), size=size) as operator:
        await operator.test(FAIL_SERIAL)
        assert "FAIL" in operator.text or operator.text.count("█") > 100
        assert "Tweeter weak" in operator.text


async def test_the_screen_follows_a_resized_terminal(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.test(PASS_SERIAL)
        await operator.pilot.resize_terminal(120, 36)
        await operator.settle()
        assert "Passed      1" in operator.text
        assert max(map(len, operator.lines)) == 120
