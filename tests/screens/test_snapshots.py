"""The whole screen as text, compared with a saved one that somebody looked at.

To renew a snapshot after a wanted change, delete its file and run this twice: the first run
writes it and fails, so that nothing new passes unseen.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.screens.conftest import At
from tests.screens.fakecycle import ANSWERS, FAIL_SERIAL, PASS_SERIAL, VOID_SERIAL, FakeCycle

SNAPSHOTS = Path(__file__).parent / "snapshots"


@pytest.mark.parametrize("size", [(80, 24), (120, 36)], ids=["80x24", "120x36"])
@pytest.mark.parametrize(
    "serials",
    [(PASS_SERIAL,), (PASS_SERIAL, FAIL_SERIAL), (FAIL_SERIAL, VOID_SERIAL)],
    ids=["pass", "fail", "void"],
)
async def test_the_screen_looks_as_it_did(
    operator_at: At, serials: tuple[str, ...], size: tuple[int, int], request: pytest.FixtureRequest
) -> None:
    async with operator_at(FakeCycle(ANSWERS), size=size, simulated=True) as operator:
        for serial in serials:
            await operator.test(serial)
        shown = operator.text + "\n"
    saved = SNAPSHOTS / f"{request.node.callspec.id}.txt"
    if not saved.exists():
        saved.write_text(shown, encoding="utf-8")
        pytest.fail(f"{saved.name} was missing and is written now: look at it, then run again")
    assert shown == saved.read_text(encoding="utf-8")
