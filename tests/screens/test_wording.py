"""Numbers, causes and counters in the words of people."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.cycle.unit.report import Progress, Stage
from station.judging.verdicts.verdict import Cause, Margin, Side, Verdict
from station.records.summaries.shift import LastUnit, ShiftCount
from station.screens.shared import wording


def cause(reading: str, side: Side, margin: float, unit: str, at_hz: float | None) -> Cause:
    return Cause(reading, side, margin, unit, at_hz, 1.0, "This\nhappened.")


@pytest.mark.parametrize(
    ("frequency_hz", "text"),
    [
        (31.5, "31.5 Hz"),
        (63.0, "63 Hz"),
        (999.4, "999 Hz"),
        (999.9, "1 kHz"),
        (1000.0, "1 kHz"),
        (2400.0, "2.4 kHz"),
        (12589.254, "12.6 kHz"),
        (20000.0, "20 kHz"),
        (math.nan, "no value"),
    ],
)
def test_frequencies_are_said_in_hertz_or_kilohertz(frequency_hz: float, text: str) -> None:
    assert wording.frequency_text(frequency_hz) == text


@pytest.mark.parametrize(
    ("level_db", "signed", "text"),
    [
        (2.34, False, "2.3 dB"),
        (2.34, True, "+2.3 dB"),
        (-37.5, False, "−37.5 dB"),
        (0.04, False, "0.04 dB"),
        (0.0, True, "+0.0 dB"),
        (-math.inf, False, "no value"),
    ],
)
def test_decibels_are_said_to_a_tenth(level_db: float, *, signed: bool, text: str) -> None:
    assert wording.decibel_text(level_db, signed=signed) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (5.1234, "Ω", "5.12 Ω"),
        (0.0031, "s", "3.1 ms"),
        (2.83, "V", "2.83 V"),
        (0.5, "V", "500 mV"),
        (-1.44, "ratio", "−1.44"),
        (12.0, "deg", "12°"),
        (1234567.0, "Ω", "1230000 Ω"),
        (0.0, "A", "0 A"),
        (math.inf, "Ω", "no value"),
    ],
)
def test_quantities_carry_their_unit(value: float, unit: str, text: str) -> None:
    assert wording.quantity_text(value, unit) == text


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9))
def test_a_number_keeps_three_significant_digits_and_no_exponent(value: float) -> None:
    text = wording.significant(value)
    assert set(text) <= set("−0123456789.")
    # half a step in the third digit is at most 0.5 % of the value
    assert float(text.replace("−", "-")) == pytest.approx(value, rel=0.00501, abs=1e-300)


def test_shares_are_said_in_percent() -> None:
    assert wording.percent_text(0.475) == "48 %"
    assert wording.percent_text(math.nan) == "no value"


@pytest.mark.parametrize(
    ("given_cause", "line"),
    [
        (
            cause("response", "below", -2.34, "dB", 2400.0),
            "Response 2.3 dB below the band at 2.4 kHz",
        ),
        (cause("h3", "above", -0.06, "dB", 63.0), "Harmonic 3 0.06 dB above the band at 63 Hz"),
        (
            cause("polarity.tweeter", "below", -1.93, "ratio", None),
            "Tweeter polarity 1.93 below the limit",
        ),
        (
            cause("impedance_min", "below", -0.42, "Ω", None),
            "Lowest impedance 0.42 Ω below the limit",
        ),
        (cause("some_new_thing", "above", -1.0, "V", None), "Some new thing 1 V above the limit"),
        (cause("response", "missing", math.nan, "dB", None), "This happened."),
        (cause("microphone", "untrusted", math.nan, "", None), "This happened."),
    ],
)
def test_a_cause_is_one_line_that_says_where_and_how_far(given_cause: Cause, line: str) -> None:
    assert wording.cause_line(given_cause) == line


def test_a_margin_says_inside_or_outside() -> None:
    assert wording.margin_line("response", Margin(0.83, "dB", 2400.0)) == (
        "Response 0.8 dB inside its band at 2.4 kHz"
    )
    assert wording.margin_line("sensitivity", Margin(-0.5, "dB", None)) == (
        "Sensitivity 0.5 dB outside its limit"
    )


@pytest.mark.parametrize("stage", Stage)
def test_every_stage_has_a_sentence(stage: Stage) -> None:
    assert wording.stage_line(Progress(stage, 1)).endswith(".")


def test_a_repeat_says_why() -> None:
    progress = Progress(Stage.REPEATING, 2, reason="A door banged.")
    assert wording.stage_line(progress) == "Measuring once more: A door banged."


def test_progress_shows_how_far_and_how_loud() -> None:
    # half of 28 cells; 30 dB above a floor of −60 dB is half of 14 cells
    line = wording.progress_line(Progress(Stage.SWEEPING, 1, 0.5, -30.0))
    assert line == "█" * 14 + "░" * 14 + "  50 %  " + "█" * 7 + "░" * 7 + " −30.0 dB of full scale"


@pytest.mark.parametrize("level_dbfs", [-math.inf, math.nan])
def test_progress_without_a_level_says_silent(level_dbfs: float) -> None:
    line = wording.progress_line(Progress(Stage.SECURING, 1, 0.0, level_dbfs))
    assert line.endswith("░ silent")
    assert "█" not in line


@given(st.floats(), st.integers(min_value=0, max_value=200))
def test_a_bar_is_always_as_wide_as_asked(ratio: float, cells: int) -> None:
    assert len(wording.bar_text(ratio, cells)) == cells


SHIFT = ShiftCount(
    117,
    3,
    1,
    (
        LastUnit("T2A00018", "Tarn 2", Verdict.FAIL, "response\nbelow"),
        LastUnit("T2A00017", "Tarn 2", Verdict.PASS, ""),
    ),
)


def test_the_shift_in_one_line_ends_with_the_newest_unit() -> None:
    assert wording.shift_line(SHIFT) == (
        "This shift: 117 passed  3 failed  1 void   Last: FAIL T2A00018  response below"
    )


def test_the_shift_as_a_column_lists_the_last_units() -> None:
    assert wording.shift_column(SHIFT).splitlines() == [
        "This shift",
        "Passed    117",
        "Failed      3",
        "Void        1",
        "",
        "Last units",
        "FAIL T2A00018  response below",
        "PASS T2A00017",
    ]


def test_counters_that_cannot_be_read_are_not_zero() -> None:
    assert wording.shift_line(None) == wording.shift_column(None) == wording.SHIFT_UNKNOWN


def test_a_rub_names_its_likely_cause_in_one_line() -> None:
    happened = "Rub or buzz, most likely coil rub (86 %), is 8.2 dB above its band at 63 Hz."
    cause = Cause("rub", "above", -8.2, "dB", 63.0, 2.7, happened)
    assert wording.cause_line(cause) == happened
