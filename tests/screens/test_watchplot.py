from __future__ import annotations

import numpy as np

from station.quality.statistics.charts import flat_chart
from station.screens.engineer.watchplot import LIMIT, OUTSIDE, POINT, chart_lines


def test_points_outside_have_another_shape_and_stand_higher() -> None:
    chart = flat_chart(np.array([0.0, 0.5, -0.5, 4.0, 0.0]), 0.0, 1.0)
    lines = chart_lines(chart, 60, 11, 2)
    assert all(len(line) == 60 for line in lines)
    assert OUTSIDE in lines[0]
    assert sum(line.count(POINT) for line in lines) == 4
    assert sum(LIMIT in line for line in lines) == 2
    assert lines[-1].lstrip().startswith("-3")


def test_the_newest_points_are_shown_where_there_are_too_many() -> None:
    values = np.zeros(500)
    values[-1] = 9.0
    lines = chart_lines(flat_chart(values, 0.0, 1.0), 40, 8, 100)
    assert lines[0].endswith(OUTSIDE)
    assert not any("│" in line for line in lines)  # the baseline is out of sight


def test_too_small_a_room_is_blank() -> None:
    chart = flat_chart(np.zeros(5), 0.0, 1.0)
    assert chart_lines(chart, 12, 10, 2) == (" " * 12,) * 10
    assert chart_lines(chart, 60, 3, 2) == (" " * 60,) * 3
