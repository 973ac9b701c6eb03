"""Draw the operator's screen for the documents: python -m tests.screens.make_pictures FOLDER."""

from __future__ import annotations

import asyncio
import re
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from station.screens.line.app import OperatorApp
from station.screens.line.ports import Cycle
from tests.cycle.line import simulated_line
from tests.screens.driving import Operator

SIZE = (120, 36)
# the web font, the credit, and the buttons of a window that the station does not have
OUTSIDE = re.compile(r"@font-face \{.*?\}\s*|<!--.*?-->\s*|<circle[^>]*/>\s*", re.DOTALL)


async def picture(cycle: Cycle, serials: tuple[str, ...], station_name: str) -> str:
    """Return the screen after the last of some tests as SVG that needs nothing from outside."""
    app = OperatorApp(cycle, station_name=station_name, simulated=True, on_fault=sys.exit)
    async with app.run_test(size=SIZE) as pilot:
        operator = Operator(pilot)
        for serial in serials:
            await operator.test(serial)
        drawn = app.export_screenshot(title=f"{station_name}, {operator.word}")
    return OUTSIDE.sub("", drawn).replace("Fira Code", "DejaVu Sans Mono")


def main() -> None:
    folder = Path(sys.argv[1])
    faults = {"T2A00102": {"reversed_tweeter": 1.0}}
    for name, serials in (("pass", ("F6A00041",)), ("fail", ("F6A00041", "T2A00102"))):
        with TemporaryDirectory() as logs, simulated_line(Path(logs), faults) as (cycle, _):
            drawn = asyncio.run(picture(cycle, serials, "Line 1"))
        (folder / f"operator-{name}.svg").write_text(drawn, encoding="utf-8")


if __name__ == "__main__":
    main()
