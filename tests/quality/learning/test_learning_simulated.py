"""Limits learned from simulated units of the demo line: who passes them and who is caught.

It takes minutes: `./.run pytest -m slow tests/quality/learning/test_learning_simulated.py`.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping

import pytest

from station.analysis.readings import Readings
from station.cycle.trial import order_for, played
from station.judging.judged import JudgedRecording, judged_recording
from station.judging.limit_file import limit_file
from station.judging.shelf import ShelvedLimits, shelved
from station.judging.verdict import Verdict
from station.quality.judged.manyunits import PASS, VOID, judged_units
from station.quality.learning.learn import LearningRule, learned_limits, with_learned
from station.records.columns.columns import columns_of
from station.simulation.faults import FAULTS
from station.study.unitline import simulated_bench
from tests.cycle.line import LIMITS as LIMITS_FOLDER

SEED = 77
LEARNED_FROM, FRESH = 200, 60
TARN = LIMITS_FOLDER / "tarn2.toml"


def simulated_units(
    taken: ShelvedLimits, first: int, count: int, faults: Mapping[str, float]
) -> Iterator[JudgedRecording]:
    """Yield units through sweep, analysis and judging, as the line does it."""
    for number in range(first, first + count):
        serial = f"T2A{number:05d}"
        order = order_for(serial, taken)
        bench = simulated_bench(SEED, faults)
        bench.fixture.secure(serial, taken.limits.model.name)
        recording = played(bench, order, on_meter=lambda _: None, stop=threading.Event())
        yield judged_recording(recording, order.plan, taken.limits)


def readings_of(found: Iterator[JudgedRecording]) -> list[Readings]:
    """Return what was read of units whose recordings can be trusted."""
    return [one.measured.readings for one in found if not one.measured.integrity]


@pytest.mark.slow
def test_fresh_units_pass_and_faulty_ones_are_caught_as_before() -> None:
    taken = shelved(TARN)
    limits, _ = limit_file(TARN)
    units = columns_of(readings_of(simulated_units(taken, 20_000, LEARNED_FROM, {})))
    learned = learned_limits(units, limits, LearningRule(0.997, 0.9, 0.4))
    draft = with_learned(limits, learned)
    fresh = columns_of(readings_of(simulated_units(taken, 30_000, FRESH, {})))
    codes = judged_units(fresh, draft).codes
    assert (codes == PASS).sum() + (codes == VOID).sum() >= FRESH - 1
    shipped = caught = 0
    faults = [
        fault for fault in FAULTS
        if limits.model.name in fault.models and not fault.name.startswith("station")
    ]  # fmt: skip
    for number, fault in enumerate(faults):
        (found,) = simulated_units(taken, 40_000 + number, 1, {fault.name: fault.default})
        shipped += found.judgement.verdict is not Verdict.PASS
        one = columns_of([found.measured.readings])
        caught += bool(found.measured.integrity) or judged_units(one, draft).codes[0] != PASS
    print(f"\n{len(faults)} faults: shipped limits catch {shipped}, learnt ones {caught}; "
          f"{FRESH} fresh units: {(codes == PASS).sum()} pass")  # fmt: skip
    assert caught >= shipped - 1
