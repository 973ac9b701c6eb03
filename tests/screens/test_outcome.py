"""A report or an error becomes one word, one next step and the curve that shows it best."""

from __future__ import annotations

from dataclasses import replace

import pytest

from station.errors import (
    AudioError,
    BusyError,
    FixtureError,
    RecordsError,
    StationError,
    StoppedError,
    TextFileError,
    UnknownSerialError,
)
from station.judging.verdicts.verdict import Judgement, Verdict
from station.screens.line.outcome import STATION_BUG, Kind, outcome_of_error, outcome_of_report
from tests.screens.fakecycle import FAILED, PASSED, VOID, example_band, report


def test_a_pass_shows_the_response_and_how_far_inside_it_is() -> None:
    outcome = outcome_of_report(report("T2A00017", PASSED))
    assert (outcome.kind, outcome.word) == (Kind.PASS, "PASS")
    assert outcome.next_step == "Take the unit out and put it with the good ones."
    assert outcome.details == ("Response 0.8 dB inside its band at 2.4 kHz",)
    assert outcome.band is PASSED.bands["response"]


def test_a_fail_names_every_cause_the_worst_first() -> None:
    outcome = outcome_of_report(report("T2A00018", FAILED))
    assert outcome.word == "FAIL"
    assert outcome.next_step == FAILED.next_step
    assert outcome.details == (
        "Response 2.3 dB below the band at 2.4 kHz",
        "Tweeter polarity 1.44 below the limit",
    )


def test_a_fail_shows_the_curve_of_the_worst_cause_that_has_one() -> None:
    thd = example_band()
    causes = (FAILED.causes[1], replace(FAILED.causes[0], reading="thd"))
    judgement = replace(FAILED, causes=causes, bands={"response": example_band(), "thd": thd})
    outcome = outcome_of_report(report("T2A00018", judgement))
    assert outcome.reading == "thd"
    assert outcome.band is thd


def test_a_pass_without_a_response_shows_any_curve_it_has() -> None:
    judgement = replace(PASSED, margins={}, bands={"impedance": example_band()})
    outcome = outcome_of_report(report("S12A00001", judgement))
    assert outcome.reading == "impedance"
    assert outcome.details == ()


def test_a_void_says_what_could_not_be_trusted_and_shows_no_curve() -> None:
    outcome = outcome_of_report(report("T2A00019", VOID))
    assert outcome.word == "VOID"
    assert outcome.details == ("The microphone heard nothing.",)
    assert outcome.band is None


def test_the_last_run_decides_and_the_repeats_are_told() -> None:
    outcome = outcome_of_report(report("T2A00019", VOID, PASSED))
    assert outcome.word == "PASS"
    assert outcome.details[-1] == "Measured 2 times; the last one counts."


@pytest.mark.parametrize("verdict", Verdict)
def test_a_judgement_without_advice_still_has_a_next_step(verdict: Verdict) -> None:
    outcome = outcome_of_report(report("T2A00017", Judgement(verdict, (), " \n")))
    assert outcome.next_step.endswith(".")


@pytest.mark.parametrize(
    ("error_type", "word"),
    [
        (AudioError, "STATION"),
        (FixtureError, "STATION"),
        (RecordsError, "STATION"),
        (BusyError, "STATION"),
        (TextFileError, "STATION"),
        (UnknownSerialError, "SERIAL"),
        (StoppedError, "STOP"),
    ],
)
def test_an_error_is_never_a_verdict(error_type: type[StationError], word: str) -> None:
    outcome = outcome_of_error(error_type("It\nhappened.", "Do this."))
    assert outcome.word == word
    assert outcome.kind not in (Kind.PASS, Kind.FAIL, Kind.VOID)
    assert (outcome.next_step, outcome.details) == ("Do this.", ("It happened.",))


def test_a_bug_is_a_fault_of_the_station() -> None:
    assert STATION_BUG.word == "STATION"
    assert "nothing about the unit" in STATION_BUG.details[0]
