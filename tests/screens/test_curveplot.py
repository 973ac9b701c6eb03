"""The plot puts curve, limits and marks where a ruler would."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.judging.verdicts.verdict import AppliedBand
from station.screens.shared.curveplot import BRAILLE, Ink, PlotMode, Row, plot_rows
from station.screens.shared.plotaxes import FrequencyAxis, ValueAxis, frequency_ticks, value_ticks
from tests.screens.fakecycle import example_band

LABELS = 7


def band_of(
    frequency_hz: FloatArray, values: FloatArray, lower: FloatArray, upper: FloatArray
) -> AppliedBand:
    outside = ((values < lower) | (values > upper)).astype(np.float64)
    return AppliedBand(frequency_hz, values, lower, upper, outside, "dB")


def flat_band(value: float, *, lower: float = -10.0, upper: float = 10.0) -> AppliedBand:
    frequency_hz = np.geomspace(20.0, 20000.0, 31)
    ones = np.ones(31)
    return band_of(frequency_hz, value * ones, lower * ones, upper * ones)


def text_of(row: Row) -> str:
    return "".join(span.text for span in row)


def inks_of(row: Row) -> list[Ink]:
    return [span.ink for span in row for _ in span.text][LABELS:]


def shaded(row: Row) -> list[bool]:
    return [span.in_band for span in row for _ in span.text][LABELS:]


def columns_with(rows: list[Row], mark: str) -> set[int]:
    return {
        column
        for row in rows[:-1]
        for column, character in enumerate(text_of(row)[LABELS:])
        if character == mark
    }


@pytest.mark.parametrize("mode", PlotMode)
def test_a_flat_curve_amid_its_limits_runs_through_the_middle_row(mode: PlotMode) -> None:
    rows = plot_rows(flat_band(0.0), 67, 12, mode)
    curve_rows = [index for index, row in enumerate(rows) if Ink.CURVE in inks_of(row)]
    assert curve_rows == [5]  # the middle of eleven rows
    assert inks_of(rows[5]) == [Ink.CURVE] * 60


def test_limits_stand_above_and_below_and_the_room_between_is_shaded() -> None:
    rows = plot_rows(flat_band(0.0), 67, 12, PlotMode.BLOCKS)
    limit_rows = [index for index, row in enumerate(rows) if Ink.LIMIT in inks_of(row)]
    assert limit_rows == [0, 10]
    for index in range(1, 10):
        assert shaded(rows[index]) == [True] * 60


def test_a_missing_limit_is_not_drawn_and_the_shade_goes_to_the_edge() -> None:
    rows = plot_rows(flat_band(0.0, lower=-math.inf), 67, 12, PlotMode.BLOCKS)
    limit_rows = [index for index, row in enumerate(rows) if Ink.LIMIT in inks_of(row)]
    assert len(limit_rows) == 1
    assert all(shaded(rows[10]))


def test_a_curve_without_any_limit_has_no_shade() -> None:
    rows = plot_rows(flat_band(3.0, lower=-math.inf, upper=math.inf), 67, 12, PlotMode.BLOCKS)
    assert not any(any(shaded(row)) for row in rows)
    assert any(Ink.CURVE in inks_of(row) for row in rows)


def test_a_straight_slope_over_log_frequency_is_a_diagonal() -> None:
    frequency_hz = np.geomspace(20.0, 20000.0, 61)
    values = 20.0 * np.log10(frequency_hz / 20.0)  # 20 dB a decade: 60 dB over three decades
    none = np.full(61, math.inf)
    rows = plot_rows(band_of(frequency_hz, values, -none, none), 67, 31, PlotMode.BLOCKS)
    for column in range(60):
        hit = [row for row in range(30) if inks_of(rows[row])[column] is Ink.CURVE]
        # half a cell of edge room at either end (4 % of 60 dB over 30 rows is 1.1 rows)
        expected = 30.0 - 1.1 - (column + 0.5) / 60.0 * (30.0 - 2.2)
        assert min(hit) - 1.0 <= expected <= max(hit) + 2.0


def test_the_line_is_unbroken_even_where_it_is_steep() -> None:
    rows = plot_rows(example_band(dip_db=30.0), 87, 24, PlotMode.BLOCKS)
    drawn = np.array([[ink in (Ink.CURVE, Ink.OUTSIDE) for ink in inks_of(row)] for row in rows])
    assert drawn[:-1].any(axis=0).all()
    for column in range(1, drawn.shape[1]):
        here, before = np.flatnonzero(drawn[:-1, column]), np.flatnonzero(drawn[:-1, column - 1])
        assert here.min() <= before.max() + 1
        assert before.min() <= here.max() + 1


def test_points_below_are_marked_by_shape_where_they_are() -> None:
    band = example_band(dip_db=4.0)
    rows = plot_rows(band, 97, 20, PlotMode.BLOCKS)
    marked = columns_with(rows, "▼")
    outside_hz = band.frequency_hz[band.outside > 0.0]
    # 90 columns over three decades: 30 a decade, counted from 20 Hz
    first = 30.0 * math.log10(outside_hz[0] / 20.0)
    last = 30.0 * math.log10(outside_hz[-1] / 20.0)
    assert marked == set(range(min(marked), max(marked) + 1))
    assert min(marked) == pytest.approx(first, abs=1.0)
    assert max(marked) == pytest.approx(last, abs=1.0)
    assert columns_with(rows, "▲") == columns_with(rows, "×") == set()


def test_points_above_are_marked_by_another_shape() -> None:
    rows = plot_rows(flat_band(14.0), 67, 12, PlotMode.BLOCKS)
    assert columns_with(rows, "▲") == set(range(60))
    assert columns_with(rows, "▼") == set()


def test_a_violation_that_does_not_count_is_not_marked() -> None:
    band = flat_band(14.0)
    forgiven = AppliedBand(
        band.frequency_hz, band.values, band.lower, band.upper, np.zeros(31), "dB"
    )
    assert columns_with(plot_rows(forgiven, 67, 12, PlotMode.BLOCKS), "▲") == set()


def test_one_narrow_violation_is_marked_however_dense_the_points_are() -> None:
    frequency_hz = np.geomspace(20.0, 20000.0, 4001)
    values = np.zeros(4001)
    values[2000] = 12.0
    ones = np.ones(4001)
    rows = plot_rows(
        band_of(frequency_hz, values, -10.0 * ones, 10.0 * ones), 67, 12, PlotMode.BLOCKS
    )
    assert columns_with(rows, "▲") == {30}  # the middle of 60 columns


@pytest.mark.parametrize("mode", PlotMode)
def test_missing_values_are_a_gap_with_a_mark_of_its_own(mode: PlotMode) -> None:
    band = example_band()
    values = band.values.copy()
    values[40:50] = math.nan
    rows = plot_rows(
        AppliedBand(band.frequency_hz, values, band.lower, band.upper, band.outside, "dB"),
        97,
        20,
        mode,
    )
    missing = columns_with(rows, "×")
    # 40 points a decade: points 40 to 49 lie from 1.000 to 1.225 decades above 20 Hz
    assert min(missing) == pytest.approx(30.0, abs=1.0)
    assert max(missing) == pytest.approx(36.75, abs=1.0)
    for column in range(32, 36):
        assert all(inks_of(row)[column] is not Ink.CURVE for row in rows[:-1])


def test_infinite_values_are_marked_at_the_edges() -> None:
    band = example_band()
    values = band.values.copy()
    values[60], values[80] = math.inf, -math.inf
    outside = np.zeros(121)
    outside[[60, 80]] = 1.0
    rows = plot_rows(
        AppliedBand(band.frequency_hz, values, band.lower, band.upper, outside, "dB"),
        97,
        20,
        PlotMode.BLOCKS,
    )
    assert "▲" in text_of(rows[0])
    assert "▼" in text_of(rows[-2])


def test_a_dead_section_does_not_squeeze_the_band() -> None:
    alive = plot_rows(example_band(), 97, 20, PlotMode.BLOCKS)
    dead = plot_rows(example_band(dip_db=200.0), 97, 20, PlotMode.BLOCKS)

    def shade_rows(rows: list[Row]) -> int:
        return sum(any(shaded(row)) for row in rows)

    # a curve far below may take as much room as the limits span: half of the rows stay
    assert shade_rows(dead) >= 0.4 * shade_rows(alive)
    assert "▼" in text_of(dead[-2])


def test_decades_stand_equally_far_apart() -> None:
    ticks = dict(frequency_ticks(FrequencyAxis(20.0, 20000.0, 90)))
    by_label = {label: column for column, label in ticks.items()}
    assert list(ticks.values()) == [
        "20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k",
    ]  # fmt: skip
    assert (by_label["20"], by_label["200"], by_label["2k"], by_label["20k"]) == (0, 30, 60, 89)
    # log10(2.5) = 0.398 of 30 columns
    assert by_label["500"] == 41


def test_labels_never_touch() -> None:
    for columns in range(12, 120):
        ticks = frequency_ticks(FrequencyAxis(20.0, 40000.0, columns))
        line = [" "] * (columns + 10)
        for column, label in ticks:
            start = 5 + column - len(label) // 2
            assert line[start - 1 : start + len(label) + 1].count(" ") == len(label) + 2
            line[start : start + len(label)] = label


def test_value_ticks_are_round_and_where_they_belong() -> None:
    # 0 to 100 over 50 rows: two units a row
    ticks = value_ticks(ValueAxis(0.0, 100.0, 50))
    assert ticks == tuple((min(49, (100 - v) // 2), str(v)) for v in range(100, -1, -5))


def test_negative_and_small_values_have_readable_labels() -> None:
    labels = [label for _, label in value_ticks(ValueAxis(-0.4, 0.4, 12))]
    assert labels == ["0.4", "0.2", "0.0", "−0.2", "−0.4"]


def test_block_mode_uses_only_characters_of_common_terminal_fonts() -> None:
    text = "".join(
        text_of(row)
        for dip_db in (0.0, 4.0, 60.0)
        for row in plot_rows(example_band(dip_db=dip_db), 113, 34, PlotMode.BLOCKS)
    )
    for character in set(text):
        box_or_block = 0x2500 <= ord(character) <= 0x259F
        assert box_or_block or character in "▲▼×·−" or character.isascii()


def test_braille_dots_follow_the_standard() -> None:
    # Unicode, names list of the block Braille Patterns: U+2801 is dot 1, U+2880 dot 8
    assert BRAILLE[0x01] == "\N{BRAILLE PATTERN DOTS-1}"
    assert BRAILLE[0x80] == "\N{BRAILLE PATTERN DOTS-8}"
    text = "".join(text_of(row) for row in plot_rows(flat_band(0.0), 67, 12, PlotMode.BRAILLE))
    # a level line takes one of the four rows of dots: 1-4, 2-5, 3-6 or 7-8
    drawn = {character for character in text if 0x2800 < ord(character) <= 0x28FF}
    assert drawn == {"\N{BRAILLE PATTERN DOTS-36}"}


def test_no_room_or_no_points_gives_blank_rows() -> None:
    none = np.zeros(0)
    for band, width, height in (
        (example_band(), 10, 12),
        (example_band(), 60, 2),
        (AppliedBand(none, none, none, none, none, "dB"), 60, 12),
    ):
        rows = plot_rows(band, width, height, PlotMode.BLOCKS)
        assert [text_of(row) for row in rows] == [" " * width] * height


ANY_VALUE = st.floats(width=32)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(ANY_VALUE, ANY_VALUE, ANY_VALUE, st.booleans()), min_size=1, max_size=40),
    st.integers(min_value=0, max_value=130),
    st.integers(min_value=0, max_value=40),
    st.sampled_from(PlotMode),
    st.one_of(st.just(0.0), st.floats(min_value=0.01, max_value=1000.0)),
)
def test_any_band_fills_its_room_exactly(
    points: list[tuple[float, float, float, bool]],
    width: int,
    height: int,
    mode: PlotMode,
    first_hz: float,
) -> None:
    columns = [np.array(column, dtype=np.float64) for column in zip(*points, strict=True)]
    frequency_hz = first_hz + np.arange(0.0, 10.0 * len(points), 10.0)
    values, lower, upper, outside = columns
    band = AppliedBand(frequency_hz, values, lower, upper, outside, "dB")
    rows = plot_rows(band, width, height, mode)
    assert [len(text_of(row)) for row in rows] == [width] * height


def test_tolerance_limits_are_dashes_outside_the_band_where_a_guard_band_parts_them() -> None:
    band = flat_band(0.0, lower=-5.0, upper=5.0)
    guarded = replace(band, guard=np.full(31, 5.0))
    rows = plot_rows(guarded, 67, 14, PlotMode.BLOCKS)
    dashed = [index for index, row in enumerate(rows[:-1]) if "┄" in text_of(row)]
    assert len(dashed) == 2
    band_rows = [index for index, row in enumerate(rows[:-1]) if any(shaded(row))]
    assert dashed[0] < min(band_rows)
    assert dashed[1] > max(band_rows)
    unguarded = plot_rows(replace(band, guard=np.zeros(31)), 67, 14, PlotMode.BLOCKS)
    assert not any("┄" in text_of(row) for row in unguarded)
