"""A short version of the study of likely causes."""

from __future__ import annotations

import pytest

from tests.studies.rubcause import Named, confidence_table, confusion_table, named_units

UNITS = 2


@pytest.fixture(scope="module")
def units() -> list[Named]:
    return list(named_units(UNITS))


def test_the_planted_cause_is_named_or_none_is(units: list[Named]) -> None:
    assert len(units) >= 15  # of twenty; the faintest do not fail
    assert not [unit for unit in units if unit.found.name is not None and not unit.right]
    assert sum(unit.right for unit in units) >= 0.9 * len(units)


def test_the_tables_hold_every_unit_that_was_named(units: list[Named]) -> None:
    counted = [line.split() for line in confusion_table(units).splitlines()[3:] if line.strip()]
    assert sum(int(cell) for row in counted for cell in row[2:]) == len(units)
    assert "%" in confidence_table(units)
