"""A release in the log is verified against the key that signed it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from station.judging.files.limit_file import limit_file_from_text
from station.judging.release.releasefile import signed_release
from station.records.keeping.verification import log_state
from station.records.kept.release import Release
from station.records.log.log import RunLog
from tests.demo_limits.release import demonstration_key
from tests.judging.example import LIMITS
from tests.records.example import example_release

WHEN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
FILE = limit_file_from_text(LIMITS, "x.toml")
SIGNED = signed_release(FILE, LIMITS, "A. Beck", WHEN, demonstration_key())


def genuine() -> Release:
    """Return a release that holds."""
    return example_release(
        model=SIGNED.model,
        revision=SIGNED.revision,
        public_key=SIGNED.public_key,
        limit_text=LIMITS,
        release_text=SIGNED.text(),
    )


def test_a_genuine_release_holds(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_release(genuine())
    state = log_state(tmp_path)
    assert state.whole
    assert (state.signatures.count, state.signatures.faults) == (1, ())


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"limit_text": LIMITS + "\n"}, "signs another limit file"),
        ({"release_text": SIGNED.text().replace("A. Beck", "B. Beck")}, "does not fit"),
        ({"release_text": '{"format": 1}\n'}, "is no release file"),
        ({"public_key": "ab" * 32}, "names another key"),
        ({"revision": "Z"}, "names another key, model or revision"),
    ],
)
def test_any_other_is_told(tmp_path: Path, changes: dict[str, str], told: str) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_release(replace(genuine(), **changes))  # type: ignore[arg-type]
    state = log_state(tmp_path)
    assert not state.whole
    (fault,) = state.signatures.faults
    assert told in fault
    assert all(chain.fault is None for chain in state.chains)  # no chain shows it
