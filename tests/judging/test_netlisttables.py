"""A netlist that makes no network is refused, with the line."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.errors import TextFileError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.netlisttables import NetlistTable
from station.tomlfiles.loading import StrictModel, model_from_toml
from tests.judging.example import LIMITS

TWO_WAY = (Path(__file__).parents[1] / "diagnosis" / "two_way.toml").read_text()


class Whole(StrictModel):
    netlist: NetlistTable


def refusal(text: str) -> tuple[str, ...]:
    with pytest.raises(TextFileError) as refused:
        model_from_toml(text, "x.toml", Whole)
    return refused.value.faults


def test_a_whole_netlist_is_taken() -> None:
    netlist = model_from_toml(TWO_WAY, "x.toml", Whole).netlist
    assert [part.name for part in netlist.parts][:3] == ["R1", "C1", "C2"]


@pytest.mark.parametrize(
    ("before", "after", "fault"),
    [
        ('name = "C2"', 'name = "C1"', "2 parts are called 'C1'"),
        ('["high", "dome"]', '["high", "lost"]', "only one part is connected to node 'lost'"),
        ('["high", "0"]', '["high", "high"]', "both ends of L2 are on node 'high'"),
        ('part = "tweeter"', 'part = "C1"', "sounds through 'C1', which is no driver or panel"),
        ('["in", "high"]', '["0", "high"]', "no way leads from 'in' to"),
        ("henry = 0.33e-3", "henry = -1.0", "greater than 0"),
        ("ohm = 2.2", "ohms = 2.2", "Extra inputs"),
    ],
)
def test_what_makes_no_network_is_refused(before: str, after: str, fault: str) -> None:
    assert TWO_WAY.count(before) == 1
    assert any(fault in line for line in refusal(TWO_WAY.replace(before, after)))


def test_the_fault_of_a_part_names_its_line() -> None:
    text = TWO_WAY.replace("henry = 0.33e-3", "henry = -1.0")
    line = text[: text.index("henry = -1.0")].count("\n") + 1
    assert any(fault.startswith(f"x.toml:{line}:") for fault in refusal(text))


def test_a_netlist_needs_the_impedance_and_its_sections() -> None:
    text = f"{LIMITS}\n{TWO_WAY}"
    with pytest.raises(TextFileError) as refused:
        limit_file_from_text(text, "x.toml")
    assert any("needs the impedance" in fault for fault in refused.value.faults)
    assert any("is none of the sections" in fault for fault in refused.value.faults)
