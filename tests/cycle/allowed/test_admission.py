"""A limit file judges as soon as its key is trusted, and the log knows it from then on."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.cycle.allowed.admission import Admission
from station.cycle.allowed.authority import Authority
from station.errors import UnreleasedError
from station.judging.files.shelf import limit_shelf
from station.judging.release.releasefile import release_of_text
from station.records.kept.roleact import Act
from station.records.log.log import RunLog
from tests.cycle.line import LIMITS, SteadyClock

UNIT = "T2A00901"


def test_a_key_that_is_trusted_while_the_line_runs_counts_at_once(tmp_path: Path) -> None:
    shelf = limit_shelf(LIMITS)
    shelved = shelf.for_serial(UNIT)
    assert shelved.release_text is not None
    release = release_of_text(shelved.release_text)
    with RunLog.open(tmp_path) as log:
        authority = Authority(log, SteadyClock(), lambda: f"id-{len(log.role_acts())}")
        admission = Admission(authority, log)
        admission.take_in(shelf)
        with pytest.raises(UnreleasedError, match="which this station does not trust"):
            admission.check(UNIT, shelved)
        assert log.releases() == ()
        authority.record(Act.TRUSTED, release.public_key)
        admission.check(UNIT, shelved)
        admission.check("T2A00902", shelved)
        (known,) = log.releases()
        assert (known.model, known.revision) == ("Tarn 2", "A")
