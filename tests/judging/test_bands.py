from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from station.analysis.plan import Reference
from station.analysis.readings import Curve
from station.judging.tables.tables import BandTable
from station.judging.verdicts.bands import band_result

# Nominal mid-band frequencies of third octaves, ISO 266:1997, table 1.
THIRDS_HZ = np.array([100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0])
FLAT = Reference(np.array([50.0, 20000.0]), np.array([1.0 + 0j, 1.0 + 0j]) * 20e-6)


def table(**changes: Any) -> BandTable:
    settings: dict[str, Any] = {
        "reading": "response",
        "mode": "absolute",
        "scale": 1.0,
        "points": ((100.0, -1.0, 1.0), (1000.0, -3.0, 3.0)),
    }
    return BandTable.model_validate(settings | changes)


def curve(values: NDArray[np.float64] | list[float]) -> Curve:
    return Curve(THIRDS_HZ, np.asarray(values, dtype=float), "dB")


def test_limits_are_linear_over_log_frequency() -> None:
    # Halfway between 100 Hz and 1 kHz on a log axis lies their geometric mean, 316.23 Hz.
    middle_hz = math.sqrt(100.0 * 1000.0)
    result = band_result(
        Curve(np.array([100.0, middle_hz, 1000.0]), np.zeros(3), "dB"), table(), None, 1.0
    )
    assert result.applied.upper == pytest.approx([1.0, 2.0, 3.0])
    assert result.applied.lower == pytest.approx([-1.0, -2.0, -3.0])


def test_the_margin_is_that_of_the_worst_point() -> None:
    values = np.zeros(11)
    values[0] = 0.75
    result = band_result(curve(values), table(), None, 1.0)
    assert result.margin.value == pytest.approx(0.25)
    assert result.margin.at_hz == 100.0
    assert not (result.below | result.above).any()


def test_a_violation_has_a_negative_margin_and_a_side() -> None:
    values = np.zeros(11)
    values[-1] = -5.0
    result = band_result(curve(values), table(), None, 1.0)
    assert result.margin.value == pytest.approx(-2.0)
    assert result.below[-1]
    assert not result.above.any()


def test_a_value_on_the_limit_is_inside() -> None:
    values = np.zeros(11)
    values[0] = 1.0
    assert band_result(curve(values), table(), None, 1.0).margin.value == 0.0


def test_points_beyond_the_breakpoints_are_not_judged() -> None:
    beyond = Curve(np.array([50.0, 100.0, 1000.0, 2000.0]), np.array([99.0, 0.0, 0.0, 99.0]), "dB")
    assert band_result(beyond, table(), None, 1.0).applied.frequency_hz.tolist() == [100.0, 1000.0]


def test_an_open_side_never_fails() -> None:
    band = table(points=((100.0, -math.inf, 1.0), (1000.0, -math.inf, 1.0)))
    assert band_result(curve(np.full(11, -200.0)), band, None, 1.0).margin.value > 0.0


def test_a_relative_band_rides_on_the_reference() -> None:
    # 20 µPa/V at 10 V is 20 dB re 20 µPa by definition of the level.
    result = band_result(curve(np.full(11, 20.5)), table(mode="relative"), FLAT, 10.0)
    assert result.margin.value == pytest.approx(0.5)


def test_a_floating_band_takes_out_the_mean_offset_up_to_its_limit() -> None:
    band = table(mode="floating", offset_db=2.0)
    inside = band_result(curve(np.full(11, 21.9)), band, FLAT, 10.0)
    assert inside.margin.value == pytest.approx(1.0)
    assert inside.offset_db == pytest.approx(1.9)
    beyond = band_result(curve(np.full(11, 24.5)), band, FLAT, 10.0)
    assert beyond.margin.value == pytest.approx(1.0 - 2.5)


def test_a_narrow_violation_is_forgiven_and_a_wide_one_is_not() -> None:
    band = table(forgive_octaves=0.5)
    values = np.zeros(11)
    values[5] = 9.0  # one third-octave point: its reach is a third of an octave
    assert band_result(curve(values), band, None, 1.0).margin.value == 0.0
    values[6] = 9.0
    result = band_result(curve(values), band, None, 1.0)
    assert result.margin.value < 0.0
    assert result.above.nonzero()[0].tolist() == [5, 6]


def test_a_shallow_violation_is_forgiven_and_a_deep_one_is_not() -> None:
    band = table(forgive_depth=0.5)
    values = np.zeros(11)
    values[0] = 1.4
    assert band_result(curve(values), band, None, 1.0).margin.value >= 0.0
    values[0] = 1.6
    assert band_result(curve(values), band, None, 1.0).margin.value == pytest.approx(-0.6)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_what_is_not_finite_is_never_judged(bad: float) -> None:
    values = np.zeros(11)
    values[3] = bad
    with pytest.raises(ValueError, match="finite"):
        band_result(curve(values), table(), None, 1.0)
