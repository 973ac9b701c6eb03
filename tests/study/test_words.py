from __future__ import annotations

import math

import pytest

from station.analysis.statistics.proportions import proportion
from station.simulation.faults import fault_of
from station.study.detectioncurve import Threshold
from station.study.findings import FaultFinding
from station.study.ladders import ladders_of
from station.study.outcome import End
from station.study.words import (
    causes_words,
    missed_words,
    severity_words,
    share_words,
    threshold_words,
)
from tests.study.example import example_findings


@pytest.mark.parametrize(
    ("fault", "severity", "words"),
    [
        ("coil_rub", 57.25, "57.2 dB SPL"),
        ("shorted_turn", 0.0234, "2.34 %"),
        ("wrong_capacitor", -0.2, "−20 %"),
        ("wrong_capacitor", 0.2, "+20 %"),
        ("wrong_filter_setting", 1.3, "+30 %"),
        ("wrong_filter_setting", 0.8, "−20 %"),
        ("station_wrong_gain", -6.0, "−6.0 dB"),
        ("station_lost_samples", 8.0, "8 samples"),
        ("station_lost_samples", 1.0, "1 sample"),
        ("dead_woofer", 1.0, ""),
    ],
)
def test_severities_are_said_in_their_own_unit(fault: str, severity: float, words: str) -> None:
    assert severity_words(ladders_of(fault_of(fault))[0], severity) == words


def test_shares_come_with_count_and_interval() -> None:
    # upper end of none of 400: 1 - 0.025^(1/400) = 0.918 %
    assert share_words(proportion(0, 400)) == "0 of 400 = 0 % (0 to 0.92 %)"
    assert share_words(proportion(0, 0)) == "none tested"


def rub() -> FaultFinding:
    return next(found for found in example_findings().faults if found.ladder.name == "coil_rub")


def capacitor() -> FaultFinding:
    name = "wrong_capacitor less"
    return next(found for found in example_findings().faults if found.ladder.name == name)


def test_thresholds_say_what_is_not_known() -> None:
    finding = rub()
    assert (
        threshold_words(finding, Threshold(0.5, 57.0, 56.0, 58.0)) == "57.0 dB SPL (56.0 to 58.0)"
    )
    assert (
        threshold_words(finding, Threshold(0.5, 57.0, 56.0, math.inf)) == "57.0 dB SPL (56.0 to …)"
    )
    beyond = Threshold(0.5, math.inf, 70.0, math.inf)
    assert threshold_words(finding, beyond) == "not reached"
    before = Threshold(0.5, -math.inf, -math.inf, 40.0)
    assert threshold_words(finding, before) == "below 45.0 dB SPL"


def test_thresholds_of_shares_are_said_in_percent() -> None:
    threshold = Threshold(0.9, math.log10(0.2), math.log10(0.1), math.log10(0.4))
    assert threshold_words(capacitor(), threshold) == "−20 % (−10 to −40)"


def test_causes_beyond_the_third_are_summed_up() -> None:
    causes = {"rub": 5, "thd": 2, "fs": 1, "impedance": 1, "response": 1}
    assert causes_words(causes, 10) == "rub 50 %, thd 20 %, fs 10 %, others 20 %"
    assert causes_words({}, 0) == "nothing"


def test_a_fault_that_voids_is_not_caught_and_is_said_to_void() -> None:
    findings = example_findings(lambda job: End.VOID if "dead_tweeter" in job.faults else End.FAIL)
    assert missed_words(findings.faults) == ["dead_tweeter (void)"]
