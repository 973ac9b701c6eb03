"""Old records are read whole, or refused with every fault and its line."""

from __future__ import annotations

import numpy as np
import pytest

from station.errors import TextFileError
from station.service.oldrecord import readings_of_old_record

GOOD = """\ufeff# measured in 1998, typed from paper
name,hz,value,unit

fs, , 61.5, Hz
response,100,85.0,dB
response,1000,86.25,dB
"response",10000,84,dB
"""


def test_curves_and_numbers_are_read_with_their_units() -> None:
    readings = readings_of_old_record(GOOD, "old.csv")
    assert (readings.numbers["fs"].value, readings.numbers["fs"].unit) == (61.5, "Hz")
    curve = readings.curves["response"]
    assert np.array_equal(curve.frequency_hz, [100.0, 1000.0, 10000.0])
    assert np.array_equal(curve.values, [85.0, 86.25, 84.0])
    assert curve.unit == "dB"


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        ("fs,,61,5,Hz", "old.csv:2: has 5 columns, not 4"),
        ("fs,,sixty,Hz", "old.csv:2: 'sixty' is not a number"),
        ("fs,,nan,Hz", "old.csv:2: 'nan' is not a number"),
        (",,1,Hz", "old.csv:2: names no reading"),
        ("fs,,1,Hz\nfs,,2,Hz", "old.csv:3: the number fs stands there twice"),
        ("a,100,1,dB\na,50,1,dB", "old.csv:3: the frequencies of a must rise"),
        ("a,-1,1,dB", "old.csv:2: a frequency is above zero"),
        ("a,100,1,dB", "the curve a has one point only"),
        ("a,1,1,dB\na,2,1,dB\na,1,1,V\na,2,1,V", "the curve a has more than one unit"),
        ("a,1,1,dB\na,2,1,dB\na,,1,dB", "a is a number and a curve"),
        ("", "old.csv: it holds no reading"),
    ],
)
def test_a_fault_is_told_with_its_line(rows: str, fault: str) -> None:
    with pytest.raises(TextFileError) as refused:
        readings_of_old_record(f"name,hz,value,unit\n{rows}\n", "old.csv")
    assert any(told.startswith(fault) or fault in told for told in refused.value.faults)


@pytest.mark.parametrize("text", ["", "# only a remark\n", "frequency;level\n100;85\n"])
def test_a_file_without_the_columns_is_refused(text: str) -> None:
    with pytest.raises(TextFileError, match="the columns must be name, hz, value, unit"):
        readings_of_old_record(text, "old.csv")
