"""What a draft would change: who flips, yield before and after, by which cause, the worst units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from station.judging.verdicts.verdict import Verdict
from station.quality.judged.manyunits import VERDICTS, ManyVerdicts
from station.records.summaries.runlist import ListedRun


@dataclass(frozen=True, slots=True)
class Ending:
    """How one run ends: its verdict, and of a fail the reading furthest outside and how far."""

    verdict: Verdict
    cause: str | None = None
    severity: float | None = None  # in multiples of the limit's own scale; None if not known


@dataclass(frozen=True, slots=True)
class Flip:
    """A run that ends otherwise than before."""

    run: ListedRun
    before: Ending
    after: Ending


@dataclass(frozen=True, slots=True)
class Tally:
    """How runs end: by verdict, and the fails by first cause."""

    passed: int
    failed: int
    void: int
    causes: Mapping[str, int]

    @property
    def yield_ratio(self) -> float | None:
        """Share that passes of those about which anything can be said; None if there are none."""
        told = self.passed + self.failed
        return self.passed / told if told else None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Before and after; the flips that were passes or would fail come first, the worst ahead."""

    before: Tally
    after: Tally
    flips: tuple[Flip, ...]
    still_failing: tuple[Flip, ...]

    @property
    def newly_failing(self) -> tuple[Flip, ...]:
        """The runs that fail and did not, the furthest outside first."""
        return tuple(flip for flip in self.flips if flip.after.verdict is Verdict.FAIL)

    @property
    def newly_passing(self) -> tuple[Flip, ...]:
        """The runs that pass and did not."""
        return tuple(flip for flip in self.flips if flip.after.verdict is Verdict.PASS)

    @property
    def newly_void(self) -> tuple[Flip, ...]:
        """The runs that say nothing now and did before."""
        return tuple(flip for flip in self.flips if flip.after.verdict is Verdict.VOID)


def what_if(runs: Sequence[ListedRun], before: Sequence[Ending], after: Sequence[Ending]) -> WhatIf:
    """Return what changes between two endings of the same runs."""
    pairs = [Flip(run, *ends) for run, *ends in zip(runs, before, after, strict=True)]
    flips = [pair for pair in pairs if pair.before.verdict is not pair.after.verdict]
    failing = [
        pair
        for pair in pairs
        if pair.before.verdict is Verdict.FAIL and pair.after.verdict is Verdict.FAIL
    ]
    return WhatIf(tally(before), tally(after), worst_first(flips), worst_first(failing))


def worst_first(flips: Sequence[Flip]) -> tuple[Flip, ...]:
    """Return runs ordered by how far they would lie outside, those that would not last."""
    return tuple(sorted(flips, key=lambda flip: (-(flip.after.severity or 0.0), flip.run.seq)))


def tally(endings: Sequence[Ending]) -> Tally:
    """Return how many end how, and why."""
    count = Counter(ending.verdict for ending in endings)
    causes = Counter(
        ending.cause for ending in endings if ending.verdict is Verdict.FAIL and ending.cause
    )
    return Tally(
        count[Verdict.PASS], count[Verdict.FAIL], count[Verdict.VOID], dict(causes.most_common())
    )


def stored_endings(runs: Sequence[ListedRun]) -> list[Ending]:
    """Return how runs ended when they were tested."""
    known = {verdict: Ending(verdict) for verdict in Verdict}
    return [
        Ending(run.verdict, run.cause) if run.verdict is Verdict.FAIL else known[run.verdict]
        for run in runs
    ]


def endings_of(verdicts: ManyVerdicts) -> list[Ending]:
    """Return verdicts on many units one by one."""
    known = [Ending(verdict) for verdict in VERDICTS]
    return [
        Ending(Verdict.FAIL, verdicts.cause_names[cause], severity) if cause >= 0 else known[code]
        for code, cause, severity in zip(
            verdicts.codes.tolist(),
            verdicts.first_cause.tolist(),
            verdicts.severity.tolist(),
            strict=True,
        )
    ]
