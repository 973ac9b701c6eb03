from __future__ import annotations

import math
import re
from xml.etree import ElementTree as ET

import pytest

from station.drawing.axes import Axis, decade_positions, round_positions
from station.drawing.page import cards, page, table
from station.drawing.plot import plot, roomy, unbroken_runs
from station.drawing.strokes import picture


def test_an_octave_is_as_wide_anywhere_on_a_logarithmic_plot() -> None:
    on = plot(900.0, 300.0, (20.0, 20_480.0), (60.0, 100.0), logarithmic=True)
    widths = {round(on.x(20.0 * 2.0 ** (n + 1)) - on.x(20.0 * 2.0**n), 6) for n in range(10)}
    assert len(widths) == 1
    assert on.x(20.0) == on.across.left
    assert on.x(20_480.0) == pytest.approx(on.across.right)


def test_more_is_higher_on_paper() -> None:
    on = plot(900.0, 300.0, (0.0, 1.0), (0.0, 1.0))
    assert on.y(1.0) < on.y(0.5) < on.y(0.0)


def test_a_curve_is_parted_where_it_has_no_value() -> None:
    points = [(0.0, 1.0), (1.0, math.nan), (2.0, 1.0), (3.0, 2.0), (4.0, math.inf)]
    assert [len(run) for run in unbroken_runs(points)] == [1, 2]


def test_an_open_side_of_a_band_ends_at_the_frame() -> None:
    on = plot(900.0, 300.0, (0.0, 1.0), (0.0, 10.0))
    (surface,) = on.band([0.0, 1.0], [-math.inf, -math.inf], [5.0, 5.0])
    heights = [float(y) for y in re.findall(r",([0-9.]+)", surface)]
    assert max(heights) == pytest.approx(on.y(0.0), abs=0.1)
    assert min(heights) == pytest.approx(on.y(5.0), abs=0.1)


def test_ticks_stand_at_round_values() -> None:
    assert round_positions(Axis(-1.1, 5.2, 0.0, 1.0)) == [-1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    found = [value for _, value in decade_positions(Axis(1.3, 3.31, 0.0, 1.0))]
    assert found == pytest.approx([20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0])


def test_a_span_of_equal_values_still_has_a_width() -> None:
    low, high = roomy([86.4, 86.4, math.nan])
    assert low < 86.4 < high


def test_a_picture_is_well_formed_and_its_words_are_no_markup() -> None:
    on = plot(400.0, 200.0, (1.0, 9.0), (0.0, 1.0))
    text = picture(400.0, 200.0, 'a "b" <c>', [on.frame("unit & number", "<share>")])
    assert ET.fromstring(text).attrib["aria-label"] == 'a "b" <c>'
    whole = page("<title>", [cards([("1 %", "<name>", "&")]), table(["<head>"], [["<cell>"]])])
    assert "<name>" not in whole
    assert "<cell>" not in whole
    assert "<title>&lt;title&gt;</title>" in whole
