"""A line is believed only if it arrived whole."""

from __future__ import annotations

import pytest

from station.hardware.ports.linereader import LineReader
from station.hardware.ports.serialline import Line, checksum, decoded, encoded
from station.simulation.bench.controllerline import crc_of, spoken, understood


def test_the_check_sum_is_the_standards_on_both_sides() -> None:
    # The published check value of CRC-32 (ITU-T V.42, IEEE 802.3) for the digits 1 to 9.
    assert checksum(b"123456789") == b"CBF43926"
    assert crc_of(b"123456789") == 0xCBF43926


def test_both_sides_understand_each_other() -> None:
    assert understood(encoded(Line(17, ("CLAMP", "on")))[:-1]) == (17, ["CLAMP", "on"])
    assert decoded(spoken(9999, ["OK", "lid=open"])[:-1]) == Line(9999, ("OK", "lid=open"))


def test_a_carriage_return_before_the_line_feed_is_left_out() -> None:
    assert decoded(encoded(Line(1, ("STATE",)))[:-1] + b"\r") == Line(1, ("STATE",))


@pytest.mark.parametrize(
    "body",
    [b"", b"17", b"17  OK", b"x OK", b"10000 OK", b"1 \x07OK", b"\xb2 OK", b"-1 OK", b"1 OK "],
)
def test_what_is_no_line_is_refused_even_with_a_right_check_sum(body: bytes) -> None:
    assert decoded(body + b" *" + checksum(body)) is None


@pytest.mark.parametrize("change", [lambda s: s[:-1], lambda s: s.lower(), lambda s: b" " + s])
def test_a_line_that_changed_on_the_way_is_none(change) -> None:  # type: ignore[no-untyped-def]
    assert decoded(change(encoded(Line(5, ("LOCK", "on")))[:-1])) is None


@pytest.mark.parametrize(
    "line", [Line(10_000, ("A",)), Line(1, ()), Line(1, ("A B",)), Line(1, ("A" * 120,))]
)
def test_what_cannot_be_sent_is_the_callers_mistake(line: Line) -> None:
    with pytest.raises(ValueError, match="no line of the protocol"):
        encoded(line)


def test_lines_are_cut_wherever_the_bytes_happen_to_be() -> None:
    reader = LineReader()
    assert list(reader.lines(b"ab")) == []
    assert list(reader.lines(b"c\n\nde")) == [b"abc", b""]
    assert list(reader.lines(b"f\n")) == [b"def"]
    assert reader.heard_bytes == 9


def test_what_never_ends_is_thrown_away_up_to_the_next_end() -> None:
    reader = LineReader(longest_bytes=10)
    assert list(reader.lines(b"x" * 9)) == []
    assert list(reader.lines(b"y" * 100_000)) == []
    assert list(reader.lines(b"tail\nnext\n")) == [b"next"]
