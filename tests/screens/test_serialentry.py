"""What a scanner sends becomes a serial number, or is refused with a sentence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.errors import UnknownSerialError
from station.screens.shared.serialentry import LONGEST_SERIAL_CHARACTERS, cleaned_serial


@pytest.mark.parametrize(
    ("scanned", "serial"),
    [
        ("T2A00017", "T2A00017"),
        ("  T2A00017\t", "T2A00017"),
        ("\x1dT2A00017\x00\r", "T2A00017"),
        ("T2A 00017", "T2A 00017"),
        ("Größe 7", "Größe 7"),
        ("", ""),
        ("\r\n\t ", ""),
    ],
)
def test_padding_at_the_ends_is_taken_off(scanned: str, serial: str) -> None:
    assert cleaned_serial(scanned) == serial


@pytest.mark.parametrize(
    "scanned", ["T2A\x0000017", "T2A\x1b[A00017", "T2A\ufffd0017", "T2A\u202e00017", "A\nB"]
)
def test_characters_that_cannot_be_printed_are_refused(scanned: str) -> None:
    with pytest.raises(UnknownSerialError) as caught:
        cleaned_serial(scanned)
    assert caught.value.happened == "The scanner sent characters that no serial number has."
    assert caught.value.remedy


def test_a_text_longer_than_any_label_is_refused_and_never_cut() -> None:
    longest = "T" * LONGEST_SERIAL_CHARACTERS
    assert cleaned_serial(longest) == longest
    with pytest.raises(UnknownSerialError, match="far more than one"):
        cleaned_serial(longest + "T")


@given(st.text())
def test_what_comes_out_is_a_printable_part_of_what_went_in(scanned: str) -> None:
    try:
        serial = cleaned_serial(scanned)
    except UnknownSerialError:
        return
    assert serial in scanned
    assert serial.isprintable()
    assert serial == serial.strip()
