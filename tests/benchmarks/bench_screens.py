"""One frame of the curve at 120 x 36, against filling the same room with plain characters."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

import numpy as np

from station.screens.line.app import OperatorApp
from station.screens.line.outcome import Kind
from station.screens.line.verdictpanel import panel_rows
from station.screens.shared.curveplot import PlotMode, plot_rows
from tests.screens.driving import Operator
from tests.screens.fakecycle import FAIL_SERIAL, FAILED, FakeCycle, example_band, report

WIDTH, HEIGHT = 120, 36
ROUNDS = 200
FRAME_BUDGET_MS = 6.0


def times_ms(act: Callable[[], object]) -> list[float]:
    """Return how long each round took."""
    taken_ms = []
    for _ in range(ROUNDS):
        began_s = time.perf_counter()
        act()
        taken_ms.append(1e3 * (time.perf_counter() - began_s))
    return taken_ms


def filled_room() -> list[str]:
    """Return the room filled by numpy alone, joined to one string a row."""
    return ["".join(row) for row in np.full((HEIGHT, WIDTH), "█")]


async def test_time_of_one_frame() -> None:
    band = example_band(dip_db=4.0)
    app = OperatorApp(
        FakeCycle({FAIL_SERIAL: report(FAIL_SERIAL, FAILED)}),
        station_name="Line 1",
        simulated=True,
        on_fault=lambda error: None,
    )
    async with app.run_test(size=(WIDTH, HEIGHT)) as pilot:
        operator = Operator(pilot)
        await operator.test(FAIL_SERIAL)
        compositor = app.screen._compositor
        steps: dict[str, Callable[[], object]] = {
            "plain fill": filled_room,
            "curve, blocks": lambda: plot_rows(band, WIDTH, HEIGHT, PlotMode.BLOCKS),
            "curve, braille": lambda: plot_rows(band, WIDTH, HEIGHT, PlotMode.BRAILLE),
            "big word": lambda: panel_rows(Kind.FAIL, "FAIL", WIDTH, 9),
            "whole screen put together": lambda: compositor.render_update(full=True),
        }
        taken_ms = {name: times_ms(act) for name, act in steps.items()}
    bare_ms = median(taken_ms["plain fill"])
    print(f"\n{'step':<28}{'median ms':>10}{'worst ms':>10}{'x plain fill':>14}")
    for name, taken in taken_ms.items():
        middle_ms = median(taken)
        print(f"{name:<28}{middle_ms:>10.3f}{max(taken):>10.3f}{middle_ms / bare_ms:>14.1f}")
    assert min(taken_ms["curve, blocks"]) <= FRAME_BUDGET_MS
    assert min(taken_ms["curve, braille"]) <= FRAME_BUDGET_MS
