"""What a number's uncertainty is with the calibration in it, by hand."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from station.analysis.readings import Number
from station.cycle.stored.totaluncertainty import expanded_uncertainty
from station.records.kept.run import UsedCalibration

THEN = datetime(2026, 11, 23, 6, 0, tzinfo=UTC)
CALIBRATIONS = {
    "microphone": UsedCalibration("m", THEN, 20.0, 0.12),
    "current": UsedCalibration("c", THEN, 8.0, 0.04),
}
BARE = {"microphone": None, "current": None}


@pytest.mark.parametrize("name", ["sensitivity", "level.tweeter"])
def test_a_level_adds_the_calibrators_share_in_squares(name: str) -> None:
    # JCGM 100:2008, 5.1.2: the root of 0.05^2 + 0.12^2 is 0.13, and k = 2 makes it 0.26.
    number = Number(86.6, "dB", 0.05)
    assert expanded_uncertainty(name, number, CALIBRATIONS) == pytest.approx(0.26, rel=1e-6)


def test_an_impedance_adds_the_currents_share_of_itself() -> None:
    # 0.04 dB is 0.461 % (0.04 / 8.686) of 6.2 Ω: 28.6 mΩ; with 10 mΩ, 30.3 mΩ, times two.
    number = Number(6.2, "Ω", 0.01)
    assert expanded_uncertainty("impedance_min", number, CALIBRATIONS) == pytest.approx(
        0.0605, abs=2e-4
    )


@pytest.mark.parametrize(
    ("name", "number", "calibrations"),
    [
        ("sensitivity", Number(86.6, "dB"), CALIBRATIONS),
        ("sensitivity", Number(86.6, "dB", 0.05), BARE),
        ("sensitivity", Number(86.6, "dB", 0.05), {}),
        ("re", Number(5.6, "Ω", 0.01), BARE),
        ("fs", Number(56.0, "Hz", 0.1), CALIBRATIONS),
        ("polarity.woofer", Number(1.0, "ratio", 0.0), CALIBRATIONS),
    ],
)
def test_nothing_is_claimed_where_a_part_is_not_known_or_not_concerned(
    name: str, number: Number, calibrations: dict[str, UsedCalibration | None]
) -> None:
    assert expanded_uncertainty(name, number, calibrations) is None


def test_a_perfect_recording_leaves_the_calibration_alone() -> None:
    number = Number(86.6, "dB", 0.0)
    expanded = expanded_uncertainty("sensitivity", number, CALIBRATIONS)
    assert expanded is not None
    assert math.isclose(expanded, 0.24, rel_tol=1e-6)
