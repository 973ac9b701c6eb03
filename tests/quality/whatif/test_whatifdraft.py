"""A draft under the hand: each change says at once what judging everything anew would say."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.tables import BandTable, NumberTable
from station.quality.judged.manyunits import FAIL, PASS, judged_units, tables_of
from station.quality.judged.units import StoredUnits
from station.quality.learning.factor import Sides
from station.quality.whatif.draft import Draft, draft_text, opened_draft
from station.quality.whatif.edit import (
    added_point,
    moved_number,
    moved_point,
    removed_point,
    step_of,
)
from station.quality.whatif.spread import curve_spread, outliers
from station.records.columns.columns import columns_of
from station.records.summaries.runlist import ListedRun
from tests.judging.example import LIMITS
from tests.quality.populations import FILE, smooth_readings

BAND, SENSITIVITY, POLARITY = FILE.bands[0], FILE.numbers[0], FILE.numbers[1]


@pytest.fixture(scope="module")
def draft() -> Draft:
    readings = smooth_readings(np.random.default_rng(31), 400, 0.6)
    columns = columns_of(readings)
    codes = judged_units(columns, FILE).codes
    runs = tuple(
        ListedRun(
            number + 1, f"r{number}", f"T2A{number:05d}", "A", 1, "2026-03-02T06:00:00+00:00",
            ("pass", "fail", "void")[code], None, None, "", None, untrusted=False,  # type: ignore[arg-type]
        )
        for number, code in enumerate(codes)
    )  # fmt: skip
    return opened_draft(StoredUnits(runs, columns), FILE)


def test_nothing_flips_before_anything_is_changed(draft: Draft) -> None:
    counts = draft.counts
    assert counts.newly_failing == counts.newly_passing == counts.newly_void == 0
    assert counts.passed + counts.failed == 400
    assert draft.rows_worth_a_look.size == counts.failed


def test_a_change_says_what_judging_everything_anew_would_say(draft: Draft) -> None:
    changed = draft
    for place, table in (
        (0, moved_point(BAND, 1, Sides.UPPER, -1.5)),
        (1, moved_number(SENSITIVITY, Sides.LOWER, 0.7)),
        (0, moved_point(BAND, 1, Sides.UPPER, 3.0)),
    ):
        changed = changed.with_limit(place, table)
        anew = judged_units(draft.units.readings, changed.limits)
        assert np.array_equal(changed.verdicts.codes, anew.codes)
        assert np.array_equal(changed.verdicts.first_cause, anew.first_cause)
        newly = np.sum((anew.codes == FAIL) & (draft.verdicts.codes == PASS))
        assert changed.counts.newly_failing == newly
    assert changed.counts.newly_failing > 0
    assert changed.counts.newly_passing > 0
    assert changed.changed == {0, 1}
    assert draft.changed == frozenset()


def test_units_that_flip_to_a_fail_come_first_the_worst_ahead(draft: Draft) -> None:
    changed = draft.with_limit(1, moved_number(SENSITIVITY, Sides.LOWER, 0.9))
    rows = changed.rows_worth_a_look[: changed.counts.newly_failing]
    assert (changed.verdicts.codes[rows] == FAIL).all()
    assert (changed.before[rows] == PASS).all()
    assert (np.diff(changed.verdicts.severity[rows]) <= 0.0).all()


def test_the_text_of_a_draft_holds_what_was_changed_and_the_rest_as_it_was(draft: Draft) -> None:
    point = moved_point(BAND, 0, Sides.LOWER, -0.25)
    changed = draft.with_limit(0, point).with_limit(2, moved_number(POLARITY, Sides.LOWER, 0.05))
    text = draft_text(LIMITS, changed, date(2026, 3, 4))
    limits = limit_file_from_text(text, "x.toml")
    assert limits == changed.limits
    assert text.count("changed by hand on 2026-03-04, tried on 400 runs") == 2
    assert [line for line in text.splitlines() if line.startswith("say")] == [
        line for line in LIMITS.splitlines() if line.startswith("say")
    ]


def test_a_new_breakpoint_changes_nothing_until_it_moves(draft: Draft) -> None:
    table, index = added_point(BAND, 0)
    assert index == 1
    assert table.points[1][0] == pytest.approx(316.23, abs=0.01)  # sqrt(100 Hz x 1 kHz)
    assert table.points[1][1:] == pytest.approx((82.0, 89.0), abs=1e-3)  # halfway in octaves
    with_point = draft.with_limit(0, table)
    assert np.array_equal(with_point.verdicts.codes, draft.verdicts.codes)
    assert removed_point(table, 1) == BAND
    last, index = added_point(BAND, 2)
    assert index == 2
    assert last.points[2][0] == pytest.approx(3162.3, abs=0.1)


def test_what_cannot_be_done_is_refused() -> None:
    with pytest.raises(RefusedInputError, match="would meet"):
        moved_point(BAND, 1, Sides.LOWER, 4.0)
    with pytest.raises(RefusedInputError, match="would meet"):
        moved_number(SENSITIVITY, Sides.UPPER, -2.0)
    with pytest.raises(RefusedInputError, match="no upper limit"):
        moved_number(POLARITY, Sides.UPPER, 0.1)
    with pytest.raises(RefusedInputError, match="stay"):
        removed_point(BAND, 0)
    opened = BandTable(
        reading="thd", mode="absolute", scale=3.0, points=((1.0, -np.inf, 1.0), (2.0, -np.inf, 1.0))
    )
    with pytest.raises(RefusedInputError, match="no lower limit"):
        moved_point(opened, 0, Sides.LOWER, 1.0)
    tight = BAND.model_copy(update={"points": ((100.0, 1.0, 2.0), (100.01, 1.0, 2.0))})
    with pytest.raises(RefusedInputError, match="no room"):
        added_point(tight, 0)


@pytest.mark.parametrize(
    ("scale", "step"), [(1.0, 0.1), (3.0, 0.1), (0.3, 0.01), (0.05, 0.01), (300.0, 10.0)]
)
def test_a_step_is_a_round_part_of_the_scale(scale: float, step: float) -> None:
    limit = NumberTable(reading="x", upper=1.0, scale=scale)
    assert step_of(limit) == pytest.approx(step)


def test_the_spread_is_that_of_the_curves(draft: Draft) -> None:
    spread = curve_spread(draft.units.readings, BAND, FILE)
    assert spread is not None
    values = draft.units.readings.curves["response"][0].values
    inside = (values >= spread.low) & (values <= spread.high)
    assert inside.mean() == pytest.approx(0.98, abs=0.005)
    assert (np.mean(values < spread.middle, axis=0) == 0.5).all()


def test_outliers_are_the_furthest_values_outside(draft: Draft) -> None:
    tight = moved_point(BAND, 1, Sides.UPPER, -1.5)
    changed = draft.with_limit(0, tight)
    found = outliers(draft.units.readings, tight, changed.limits, changed.applied[0])
    assert found is not None
    column = draft.units.readings.curves["response"][0]
    at_1_khz = int(np.argmin(np.abs(column.frequency_hz - 1000.0)))
    assert found.highest[at_1_khz] == column.values[:, at_1_khz].max()
    assert np.isnan(found.highest[0])
    assert tables_of(changed.limits)[0] == tight
