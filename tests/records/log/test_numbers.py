"""Numbers with their uncertainty, as the log keeps them."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.readings import Number
from station.records.rows.runs import number_of, numbers_text
from tests.records.same import same

spreads = st.just(math.nan) | st.floats(min_value=0.0)
numbers = st.dictionaries(
    st.text("abc.", max_size=4), st.builds(Number, st.floats(), st.text("dBΩ"), spreads)
)


@given(numbers)
def test_a_number_comes_back_with_its_uncertainty(written: dict[str, Number]) -> None:
    read = {name: number_of(stored) for name, stored in json.loads(numbers_text(written)).items()}
    assert same(read, written)


def test_an_uncertainty_that_is_not_stated_takes_no_room() -> None:
    stated = {"fs": Number(61.5, "Hz", 0.25), "voltage": Number(2.83, "V")}
    assert numbers_text(stated) == '{"fs":[61.5,"Hz",0.25],"voltage":[2.83,"V"]}'


def test_a_run_stored_before_numbers_had_an_uncertainty_is_read() -> None:
    assert number_of([61.5, "Hz"]) == Number(61.5, "Hz")
    assert number_of(["inf", "Ω"]) == Number(math.inf, "Ω")
    assert math.isnan(number_of([None, "dB"]).value)


def test_numbers_are_equal_if_all_that_is_stated_is() -> None:
    assert Number(1.0, "V") == Number(1.0, "V", float("nan"))
    assert Number(1.0, "V") != Number(1.0, "V", 0.1)
    assert len({Number(1.0, "V"), Number(1.0, "V", -math.nan)}) == 1


def test_no_uncertainty_is_negative() -> None:
    with pytest.raises(ValueError, match="zero or above"):
        Number(1.0, "V", -0.1)
