"""Several curves on one plot: each by its own figure, and nothing hides behind another."""

from __future__ import annotations

import numpy as np

from station.analysis.readings import Curve
from station.screens.shared.overlayplot import overlay_lines

HZ = np.geomspace(20.0, 20000.0, 61)


def test_every_curve_is_drawn_with_its_figure_at_its_height() -> None:
    lines = overlay_lines(
        [Curve(HZ, np.full(61, 90.0), "dB"), Curve(HZ, np.full(61, 80.0), "dB")], 80, 20
    )
    assert len(lines) == 20
    assert max(map(len, lines)) <= 80
    (first,) = [row for row, line in enumerate(lines) if "11111" in line]
    (second,) = [row for row, line in enumerate(lines) if "22222" in line]
    assert first < second
    assert lines[first].lstrip().startswith("90")
    assert lines[-1].startswith("dB")
    assert {"100", "1k", "10k"} <= set(lines[-1].split())


def test_curves_that_meet_say_so() -> None:
    lines = overlay_lines([Curve(HZ, np.full(61, 90.0), "dB")] * 2, 80, 12)
    (row,) = [line for line in lines if "=" in line]
    assert row.count("=") == 73  # every column


def test_a_curve_that_ends_early_leaves_the_rest_free() -> None:
    short = Curve(HZ[:31], np.full(31, 80.0), "dB")
    lines = overlay_lines([Curve(HZ, np.full(61, 90.0), "dB"), short], 80, 12)
    (row,) = [line for line in lines if "2" in line and "│" in line and "222" in line]
    # half of the decades, as 31 of 61 points of a geometric row reach
    assert abs(row.count("2") - 73 / 2) < 2
