from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from station.quality.learning.points import enclosing_points

HZ = np.geomspace(40.0, 16000.0, 60)
NOTHING = np.full(HZ.size, np.inf)


def interpolated(points: tuple, side: str) -> np.ndarray:
    at = np.log([point.hz for point in points])
    return np.interp(np.log(HZ), at, [getattr(point, side) for point in points])


@given(
    shape=st.lists(st.floats(-20.0, 20.0), min_size=60, max_size=60),
    width=st.floats(0.1, 5.0),
    slack=st.floats(0.1, 1.0),
)
@settings(max_examples=15, deadline=None)
def test_the_band_encloses_and_keeps_within_its_room(
    shape: list[float], width: float, slack: float
) -> None:
    centre = np.array(shape)
    lower, upper, room = centre - width, centre + width, np.full(HZ.size, slack * width)
    points = enclosing_points(HZ, lower, upper, room)
    low, high = interpolated(points, "lower"), interpolated(points, "upper")
    assert (low <= lower + 1e-9).all()
    assert (high >= upper - 1e-9).all()
    # Rounding adds a step, a tenth of the width or less.
    assert (lower - low).max() <= room.max() + 0.2 * width
    assert (high - upper).max() <= room.max() + 0.2 * width
    assert points[0].hz <= HZ[0]
    assert points[-1].hz >= HZ[-1]


def test_a_straight_band_needs_its_two_ends() -> None:
    slope = np.log(HZ)
    points = enclosing_points(HZ, slope - 1.0, slope + 1.0, np.full(HZ.size, 0.2))
    assert len(points) == 2


def test_one_corner_needs_one_more() -> None:
    corner = np.abs(np.log(HZ / HZ[30]))
    points = enclosing_points(HZ, corner - 1.0, corner + 1.0, np.full(HZ.size, 0.1))
    assert [round(point.hz) for point in points] == [40, round(HZ[30]), 16000]


def test_an_open_side_stays_open() -> None:
    bumps = -40.0 + np.sin(3.0 * np.log(HZ))
    points = enclosing_points(HZ, -NOTHING, bumps, np.full(HZ.size, 0.3))
    assert all(point.lower == -np.inf for point in points)
    assert (interpolated(points, "upper") >= bumps - 1e-9).all()
    assert len(points) < 20
