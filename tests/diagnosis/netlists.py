"""The three networks beside this file as tables."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from station.judging.tables.netlisttables import NetlistTable
from station.judging.tables.readingtables import SectionTable

HERE = Path(__file__).parent
NAMES = ("two_way", "three_way", "hybrid")
BANDS_HZ = {
    "two_way": {"woofer": (100.0, 1000.0), "tweeter": (5000.0, 15000.0)},
    "three_way": {
        "woofer": (60.0, 180.0),
        "midrange": (700.0, 2000.0),
        "tweeter": (7000.0, 16000.0),
    },
    "hybrid": {"woofer": (60.0, 250.0), "panel": (1500.0, 12000.0)},
}


@cache
def netlist(name: str) -> NetlistTable:
    """Return a network's table."""
    return NetlistTable.model_validate(
        tomllib.loads((HERE / f"{name}.toml").read_text())["netlist"]
    )


def sections(name: str) -> tuple[SectionTable, ...]:
    """Return the sections of a network."""
    return tuple(
        SectionTable(name=section, from_hz=low, to_hz=high)
        for section, (low, high) in BANDS_HZ[name].items()
    )
