"""The end-to-end study, a few units for the suite and one of each kind of fault when asked."""

from __future__ import annotations

import itertools

import pytest

from station.cycle.stored.suspicion import Suspicion
from station.judging.files.shelf import shelved
from tests.studies.faultyunits import LIMITS, OF_MODEL, Count, outcome_of, units_in_turn

KINDS = sum(len(faults) for faults in OF_MODEL.values())


def counted(numbers: range) -> Count:
    limits = {model: shelved(LIMITS / f"{model}.toml") for model in OF_MODEL}
    suspicion, count = Suspicion(), Count()
    for model, serial, fault, severity in itertools.islice(
        units_in_turn(), numbers.start, numbers.stop, numbers.step
    ):
        found = outcome_of(limits[model], serial, {fault.name: severity}, suspicion)
        count.add(fault, *found)
    return count


def test_a_few_units_name_the_right_part() -> None:
    count = counted(range(0, KINDS, KINDS // 3))
    assert count.units == count.few
    assert count.first >= count.units - 1


@pytest.mark.slow
def test_one_unit_of_each_kind_names_the_right_part() -> None:
    count = counted(range(KINDS))
    # 98 and 100 % of 300 were found.
    assert count.first >= 0.85 * count.units
    assert count.few >= 0.97 * count.units
