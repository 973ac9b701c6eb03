"""What changed between two limit files, in words, on pairs of real files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from station.judging.differences.differences import changes_between
from station.judging.files.limit_file import limit_file, limit_file_from_text
from station.judging.files.patternfile import beside
from tests.judging.example import LIMITS as SMALL

LIMITS = Path(__file__).parent.parent.parent / "limits"
BAND = """
[[bands]]
reading = "thd"
mode = "absolute"
scale = 3
points = [[1000.0, -inf, -30.0], [3000.0, -inf, -35.0], [10000.0, -inf, -35.0]]
"""
DISTORTION = """
[readings.distortion]
from_hz = 100.0
to_hz = 10000.0
bands_per_octave = 3
orders = [2, 3]
"""
WHOLE = SMALL + DISTORTION + BAND


def changed(*swaps: tuple[str, str], text: str = WHOLE) -> tuple[str, ...]:
    """Return what a change of the text comes to in words."""
    new = text
    for before, after in swaps:
        assert before in new, before
        new = new.replace(before, after, 1)
    old_file, new_file = (limit_file_from_text(each, "x.toml") for each in (text, new))
    return changes_between(old_file, new_file)


@pytest.mark.parametrize(
    ("swap", "told"),
    [
        (("[3000.0, -inf, -35.0]", "[3000.0, -inf, -34.5]"), "thd: upper limit at 3 kHz +0.5 dB"),
        (
            ("-35.0], [10000.0, -inf, -35.0]", "-36.0], [10000.0, -inf, -36.0]"),
            "thd: upper limit from 3 kHz to 10 kHz −1 dB",
        ),
        (("[10000.0, -inf", "[8000.0, -inf"), "thd: band ends at 8 kHz (before: 10 kHz)"),
        (("level_v = 2.83", "level_v = 2.0"), "stimulus: level 2.83 V → 2 V"),
        (("stop_hz = 44000.0", "stop_hz = 43000.0"), "stimulus: stop 44 kHz → 43 kHz"),
        (("void = 2", "void = 1"), "repeats: void 2 → 1"),
        (("noise = 3", "noise = 0"), "repeats: noise 3 → 0"),
        (("orders = [2, 3]", "orders = [2, 3, 5]"), "readings.distortion: orders 2, 3 → 2, 3, 5"),
        (
            ('serial = "T2A[0-9]{5}"', 'serial = "T2[AB][0-9]{5}"'),
            'model: serial "T2A[0-9]{5}" → "T2[AB][0-9]{5}"',
        ),
        (
            ('revision = "A"', 'revision = "B"\nholds_from = "T2A01500"'),
            'model: holds from not set → "T2A01500"',
        ),
    ],
)
def test_one_change_is_one_sentence(swap: tuple[str, str], told: str) -> None:
    assert changed(swap) == (told,)


def test_a_breakpoint_on_the_line_between_two_others_changes_nothing() -> None:
    # halfway in log frequency between 1 and 3 kHz: sqrt(1000 * 3000) Hz, -32.5 dB
    between = "[1000.0, -inf, -30.0], [1732.0508075688772, -inf, -32.5]"
    assert changed(("[1000.0, -inf, -30.0]", between)) == ()


def test_a_breakpoint_off_the_line_is_told_where_it_stands() -> None:
    between = "[1000.0, -inf, -30.0], [1732.0508075688772, -inf, -31.5]"
    assert changed(("[1000.0, -inf, -30.0]", between)) == ("thd: upper limit at 1.73 kHz +1 dB",)


def test_sides_and_bands_that_come_and_go_are_told() -> None:
    assert changed((BAND, "")) == ("thd: absolute band taken away",)
    assert changed(("", ""), text=WHOLE) == ()
    lower = BAND.replace("-inf", "-90.0")
    assert changed((BAND, lower)) == ("thd: lower limit added",)


def test_author_reason_and_remarks_are_no_change() -> None:
    assert (
        changed(
            ('author = "A. Beck"', 'author = "C. Dahl" # new'),
            ('reason = "for tests"', 'reason = "still for tests"'),
            ("day = 2026-11-25", "day = 2026-11-26"),
            ('revision = "A"', 'revision = "B"'),
        )
        == ()
    )


def demo(model: str, *swaps: tuple[str, str]) -> tuple[str, ...]:
    """Return what changes of a demo limit file come to, by regular expressions."""
    path = LIMITS / f"{model}.toml"
    old, text = limit_file(path)
    for pattern, after in swaps:
        text, count = re.subn(pattern, after, text, count=1)
        assert count == 1, pattern
    return changes_between(old, limit_file_from_text(text, str(path), beside(LIMITS)))


def test_numbers_are_told_with_their_unit_and_by_how_much() -> None:
    old, _ = limit_file(LIMITS / "tarn2.toml")
    (fs,) = (table for table in old.numbers if table.reading == "fs")
    assert fs.upper is not None
    told = demo("tarn2", (rf'(reading = "fs"\nlower = .*\n)upper = {fs.upper:g}', r"\1upper = 999"))
    assert told == (f"fs: upper limit {fs.upper:.3g} Hz → 999 Hz (+{999 - fs.upper:.4g} Hz)",)


def test_advice_is_told_by_what_it_says() -> None:
    told = demo(
        "tarn2",
        (r'say = "Tweeter leads reversed[^"]*"', 'say = "Turn it round."'),
        (r'"Tweeter leads reversed[^"]*" = ', '"Turn it round." = '),
    )
    assert told[-2].startswith('advice taken away: "Tweeter leads reversed')
    assert told[-1] == 'advice added: "Turn it round."'
    assert "translations.de: Turn it round. " in told[1]


def test_two_models_differ_in_much_and_a_file_from_itself_in_nothing() -> None:
    files = [limit_file(path)[0] for path in sorted(LIMITS.glob("*.toml"))]
    for old in files:
        for new in files:
            assert (changes_between(old, new) == ()) == (old is new)


def test_many_moved_breakpoints_are_told_as_their_range() -> None:
    old, _ = limit_file(LIMITS / "tarn2.toml")
    band = next(band for band in old.bands if band.reading == "response")
    points = tuple(
        (hz, lower, upper + 0.1 * number) for number, (hz, lower, upper) in enumerate(band.points)
    )
    moved = band.model_copy(update={"points": points})
    bands = tuple(moved if one is band else one for one in old.bands)
    (told,) = changes_between(old, old.model_copy(update={"bands": bands}))
    assert re.fullmatch(
        r"response: upper limit from .* to .* by \+0\.1 dB to \+[0-9.]+ dB, most at .*", told
    )
