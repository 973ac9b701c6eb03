"""A running operator screen for the tests."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager

import pytest

from station.screens.line.app import OperatorApp
from tests.screens.driving import Operator
from tests.screens.fakecycle import FakeCycle

At = Callable[..., AbstractAsyncContextManager[Operator]]


@pytest.fixture
def faults() -> list[BaseException]:
    """What the screen handed over to be logged."""
    return []


@pytest.fixture
def operator_at(faults: list[BaseException]) -> At:
    """Return a function that opens the screen on a cycle, at 80 x 24 unless told otherwise."""

    @asynccontextmanager
    async def opened(
        cycle: FakeCycle,
        size: tuple[int, int] = (80, 24),
        *,
        simulated: bool = False,
        next_unit: Callable[[], str] | None = None,
    ) -> AsyncIterator[Operator]:
        app = OperatorApp(
            cycle,
            station_name="Line 1",
            simulated=simulated,
            on_fault=faults.append,
            next_unit=next_unit,
        )
        async with app.run_test(size=size) as pilot:
            operator = Operator(pilot)
            await operator.settle()
            yield operator

    return opened
