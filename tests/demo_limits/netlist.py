"""Write the netlists of the demo limit files, with what simulated good units teach.

    ./.run python -m tests.demo_limits.netlist limits [tarn2 fell60]

A model's parts are written by hand in `<model>.netlist.toml`. The result goes to the end of
`<model>.head.toml`, and into the limit file before its reference; all else stays as it is.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from station.analysis.measure import measure
from station.diagnosis.learning import learned_netlist
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of
from station.judging.tables.netlisttables import NetlistTable
from station.quality.learning.reference import array_toml
from tests.demo_limits.production import recordings
from tests.demo_limits.recipes import RECIPES, Recipe
from tests.demo_limits.write import HERE

TITLE = (
    "# Parts by the drawing; the drivers' values and the learned table by simulated good units.\n"
)
END = "# End of the netlist.\n"
FIRST, AFTER = "[netlist]", "[reference]"
UNITS = 60
DIGITS = 5


def taught(recipe: Recipe, folder: Path) -> NetlistTable:
    """Return a model's netlist with what good units teach."""
    limits, _ = limit_file(folder / f"{recipe.name}.toml")
    plan = plan_of(limits)
    serials = tuple(f"{recipe.prefix}{number:05d}" for number in range(UNITS))
    units = [measure(recording, plan).readings for recording in recordings(serials, limits)]
    written = tomllib.loads((HERE / f"{recipe.name}.netlist.toml").read_text(encoding="utf-8"))
    designed = NetlistTable.model_validate(written["netlist"])
    return learned_netlist(designed, limits.readings.sections, units)


def table_text(name: str, table: BaseModel) -> Iterator[str]:
    """Yield the lines of a table and of those inside it."""
    inner: list[tuple[str, object]] = []
    for key, value in table:
        if isinstance(value, BaseModel) or (
            isinstance(value, tuple) and value and isinstance(value[0], BaseModel)
        ):
            inner.append((key, value))
        elif isinstance(value, str):
            yield f'{key} = "{value}"'
        elif isinstance(value, int):
            yield f"{key} = {value}"
        elif isinstance(value, float):
            yield f"{key} = {value:.{DIGITS}g}"
        elif value and isinstance(value[0], str):
            yield f"{key} = {json.dumps(value)}"
        elif value:
            yield f"{key} = {array_toml([six_digits(one) for one in value])}"
    for key, value in inner:
        tables = value if isinstance(value, tuple) else (value,)
        head = f"[[{name}.{key}]]" if isinstance(value, tuple) else f"[{name}.{key}]"
        for one in tables:
            yield f"\n{head}"
            yield from table_text(f"{name}.{key}", one)


def six_digits(value: float) -> float:
    """Return a value of a list as it is written."""
    return float(f"{value:.6g}")


def netlist_text(netlist: NetlistTable) -> str:
    """Return a netlist as text."""
    return f"{TITLE}{FIRST}\n" + "\n".join(table_text("netlist", netlist)) + f"\n{END}"


def without_netlist(text: str) -> tuple[str, str]:
    """Return what stands before and after a netlist, or before and after where it belongs."""
    before, _, rest = text.partition(TITLE)
    if rest:
        return before, rest.partition(END)[2].lstrip("\n")
    at = text.find(AFTER)
    return (text[:at], text[at:]) if at >= 0 else (text.rstrip() + "\n\n", "")


def main() -> None:
    """Write the netlists into the folder named on the command line, and into the heads."""
    folder, chosen = Path(sys.argv[1]), sys.argv[2:]
    for recipe in RECIPES:
        if not (HERE / f"{recipe.name}.netlist.toml").exists():
            continue
        if chosen and recipe.name not in chosen:
            continue
        text = netlist_text(taught(recipe, folder))
        for path in (HERE / f"{recipe.name}.head.toml", folder / f"{recipe.name}.toml"):
            before, after = without_netlist(path.read_text(encoding="utf-8"))
            gap = "\n" if after else ""
            path.write_text(f"{before}{text}{gap}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
