from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cycle.line import LIMITS

REFUSED = 2
SIMULATED = ("--simulate", "--limits-folder", LIMITS)


def test_the_window_of_a_simulated_unit_is_shown(station: Any, tmp_path: Path) -> None:
    shown = station("window", "F6A00041", "--angles", "0,30", *SIMULATED)
    assert shown.code == 0
    assert "mean of all angles" in shown.out
    assert "+30° to 0°" in shown.out


def test_all_of_it_comes_as_one_object(station: Any) -> None:
    shown = station("window", "T2A00101", "--angles", "0", "--json", *SIMULATED)
    found = json.loads(shown.out)
    assert found["angles_deg"] == [0.0]
    assert len(found["hz"]) == len(found["mean_db"]) == len(found["level_db"][0])
    # A mean over one angle is that angle's level.
    assert found["mean_db"] == pytest.approx(found["level_db"][0], abs=1e-9)


@pytest.mark.parametrize("angles", ["left", "0,200", "15", "0,0", ""])
def test_angles_that_make_no_sense_are_refused(station: Any, angles: str) -> None:
    assert station("window", "T2A00101", "--angles", angles, *SIMULATED).code == REFUSED
