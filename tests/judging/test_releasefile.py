"""Every byte of a release and of the limit file it signs counts."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from station.errors import UnreleasedError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.files.shelf import ShelvedLimits
from station.judging.release.releasecheck import checked_release
from station.judging.release.releasefile import release_of_text, signed_release
from tests.demo_limits.release import demonstration_key
from tests.judging.example import LIMITS

WHEN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
FILE = limit_file_from_text(LIMITS, "x.toml")
RELEASE = signed_release(FILE, LIMITS, "A. Beck, Ørsted line", WHEN, demonstration_key())
RELEASED = ShelvedLimits(FILE, LIMITS, "x.toml", RELEASE.text())
KEYS = {demonstration_key().public.hex}


def test_a_release_holds_and_says_who_and_when() -> None:
    release = checked_release(RELEASED, KEYS)
    assert release == RELEASE
    assert (release.released_by, release.released) == ("A. Beck, Ørsted line", WHEN)


def test_each_changed_byte_of_the_release_is_found() -> None:
    contents = RELEASE.text().encode()
    for place in range(len(contents)):
        for bit in (1, 16):
            changed = bytearray(contents)
            changed[place] ^= bit
            text = changed.decode("utf-8", "replace")
            with pytest.raises(UnreleasedError, match=r"x\.release was changed after"):
                checked_release(replace(RELEASED, release_text=text), KEYS)


def test_each_changed_byte_of_the_limits_is_found() -> None:
    contents = LIMITS.encode()
    for place in range(len(contents)):
        changed = bytearray(contents)
        changed[place] ^= 1
        text = changed.decode("utf-8", "replace")
        with pytest.raises(UnreleasedError, match=r"x\.toml was changed after A\. Beck"):
            checked_release(replace(RELEASED, text=text), KEYS)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        "{}",
        RELEASE.text().rstrip("\n"),
        RELEASE.text() + "\n",
        RELEASE.text().replace("  ", "    "),
        RELEASE.text().replace("{", '{\n  "format": 1,', 1),  # the same key twice
        RELEASE.text().replace('"format": 1', '"format": 2'),
        RELEASE.text().replace('"format": 1', '"format": true'),
        json.dumps(json.loads(RELEASE.text())),
        "[" * 100_000,
        RELEASE.text().replace("2026-11-25T08:00:00+00:00", "2026-11-25T08:00:00"),
        RELEASE.text().replace("2026-11-25T08:00:00+00:00", "yesterday"),
    ],
)
def test_another_form_is_refused(text: str) -> None:
    with pytest.raises(UnreleasedError, match=r"x\.release was changed after it was signed"):
        checked_release(replace(RELEASED, release_text=text), KEYS)


def test_a_key_that_is_no_key_signs_nothing() -> None:
    for key in ("", "zz", "00" * 32, "é"):
        text = replace(RELEASE, public_key=key).text()
        assert release_of_text(text).public_key == key
        with pytest.raises(UnreleasedError, match="its signature does not fit"):
            checked_release(replace(RELEASED, release_text=text), KEYS)


def test_nothing_is_believed_without_a_trusted_key() -> None:
    with pytest.raises(UnreleasedError, match="which this station does not trust"):
        checked_release(RELEASED, set())


def test_an_unreleased_file_is_refused() -> None:
    with pytest.raises(UnreleasedError, match=r"there is no x\.release beside it"):
        checked_release(replace(RELEASED, release_text=None), KEYS)
