"""From the ends of single units to what a study found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.statistics.proportions import Proportion, proportion
from station.study.detectioncurve import DetectionCurve, Ladder, detection_curve
from station.study.jobs import GOOD, Key, StudyPlan
from station.study.ladders import SeverityLadder
from station.study.outcome import End, Outcome

PROBABILITIES = (0.5, 0.9, 0.99)


@dataclass(frozen=True, slots=True)
class Tally:
    """How a number of units ended, and what failed or voided them first."""

    n: int
    ends: Mapping[End, int]
    first_causes: Mapping[str, int]  # of those that failed, most frequent first
    void_causes: Mapping[str, int]
    told: Mapping[str, int]  # what the operators of failing units were told

    def share(self, end: End) -> Proportion:
        """Return the share that ended so."""
        return proportion(self.ends.get(end, 0), self.n)


@dataclass(frozen=True, slots=True)
class GoodFinding:
    """What became of good units: all, those whose first sweep was disturbed, and the others."""

    every: Tally
    with_bang: Tally
    without_bang: Tally
    repeated: Proportion  # needed more than one sweep


@dataclass(frozen=True, slots=True)
class Rung:
    """What became of the units with one severity of a fault."""

    severity: float
    tally: Tally


@dataclass(frozen=True, slots=True, eq=False)
class FaultFinding:
    """What became of the units with one fault, from harmless to gross."""

    ladder: SeverityLadder
    rungs: tuple[Rung, ...]
    every: Tally
    curve: DetectionCurve | None  # None where there is nothing to climb

    @property
    def caught(self) -> bool:
        """Whether the fault, as gross as it was planted, is found more often than not."""
        last = self.rungs[-1].tally
        return 2 * last.ends.get(End.FAIL, 0) > last.n


@dataclass(frozen=True, slots=True)
class Speed:
    """What testing one unit costs; NaN where nothing was tested."""

    units_per_s: float  # of one core
    simulating_ratio: float  # of four bare transforms of the same length, for each sweep
    judging_ratio: float


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """Everything a study found."""

    good: GoodFinding
    faults: tuple[FaultFinding, ...]
    station: tuple[FaultFinding, ...]
    speed: Speed


def findings_of(plan: StudyPlan, known: Mapping[Key, Outcome]) -> Findings:
    """Return what a study found, from the outcome of every one of its units."""
    good = good_finding([known[Key(GOOD, 0.0, number)] for number in range(plan.good_units)])
    found = tuple(
        fault_finding(ladder, plan.units_per_rung, known, good) for ladder in plan.ladders
    )
    return Findings(
        good,
        tuple(finding for finding in found if not finding.ladder.of_station),
        tuple(finding for finding in found if finding.ladder.of_station),
        speed_of(known.values()),
    )


def good_finding(outcomes: Sequence[Outcome]) -> GoodFinding:
    """Return what became of good units."""
    repeated = sum(outcome.sweeps > 1 for outcome in outcomes)
    return GoodFinding(
        tally(outcomes),
        tally([outcome for outcome in outcomes if outcome.bang_db_spl is not None]),
        tally([outcome for outcome in outcomes if outcome.bang_db_spl is None]),
        proportion(repeated, len(outcomes)),
    )


def fault_finding(
    ladder: SeverityLadder, units: int, known: Mapping[Key, Outcome], good: GoodFinding
) -> FaultFinding:
    """Return what became of the units with one fault."""
    by_rung = {
        severity: [known[Key(ladder.name, severity, number)] for number in range(units)]
        for severity in ladder.severities
    }
    rungs = tuple(Rung(severity, tally(outcomes)) for severity, outcomes in by_rung.items())
    every = tally([outcome for outcomes in by_rung.values() for outcome in outcomes])
    curve = None
    if ladder.graded and not ladder.of_station:
        curve = detection_curve(counts_of(ladder, rungs, good), PROBABILITIES)
    return FaultFinding(ladder, rungs, every, curve)


def counts_of(ladder: SeverityLadder, rungs: Sequence[Rung], good: GoodFinding) -> Ladder:
    """Return how many failed at each rung; good units fail as often as was seen."""
    floor = good.every.share(End.FAIL)
    return Ladder(
        np.array([ladder.position(rung.severity) for rung in rungs]),
        np.array([float(rung.tally.ends.get(End.FAIL, 0)) for rung in rungs]),
        np.array([float(rung.tally.n) for rung in rungs]),
        floor.ratio if floor.hits < floor.n else 0.0,
    )


def tally(outcomes: Sequence[Outcome]) -> Tally:
    """Return how units ended."""
    failed = [outcome for outcome in outcomes if outcome.end is End.FAIL]
    void = [outcome for outcome in outcomes if outcome.end is End.VOID]
    return Tally(
        len(outcomes),
        dict(Counter(outcome.end for outcome in outcomes)),
        ranked(outcome.causes[0] for outcome in failed),
        ranked(outcome.causes[0] for outcome in void),
        ranked(outcome.told for outcome in failed),
    )


def ranked(words: Iterable[str]) -> dict[str, int]:
    """Return how often each was said, most frequent first, equals by the alphabet."""
    counts = Counter(words)
    return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def speed_of(outcomes: Iterable[Outcome]) -> Speed:
    """Return what testing costs on average."""
    costs = [outcome.cost for outcome in outcomes]
    simulating_s = sum(cost.simulating_s for cost in costs)
    judging_s = sum(cost.judging_s for cost in costs)
    floor_s = sum(cost.transforms_s for cost in costs)
    if floor_s <= 0.0 or simulating_s + judging_s <= 0.0:
        return Speed(np.nan, np.nan, np.nan)
    return Speed(
        len(costs) / (simulating_s + judging_s), simulating_s / floor_s, judging_s / floor_s
    )
