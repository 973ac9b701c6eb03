"""The words of a judgement: verdict, causes with margins, and the bands as they were applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from station.analysis.arrays import FloatArray, read_only

Side = Literal["below", "above", "missing", "untrusted"]


class Verdict(StrEnum):
    """What a run says: void says nothing about the unit."""

    PASS = "pass"
    FAIL = "fail"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class Cause:
    """One reason why a run did not pass.

    Attributes
    ----------
    reading : str
        The reading outside its limits, or for a void what could not be trusted.
    side : str
        "below" or "above" the limit; "missing" for a reading that could not be computed;
        "untrusted" for a fault of the recording.
    margin : float
        How far inside (+) or outside (-) the limit at the worst point, in `unit`; NaN for a void.
    at_hz : float or None
        Frequency of the worst point of a curve.
    severity : float
        Margin in multiples of the limit's own scale, positive outside; orders the causes.
    happened : str
        One sentence.
    advice : str
        What to do; empty if the limit file has none for this cause.
    """

    reading: str
    side: Side
    margin: float
    unit: str
    at_hz: float | None
    severity: float
    happened: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Margin:
    """Margin of one reading against its limit, inside or out, at its worst point."""

    value: float
    unit: str
    at_hz: float | None


@dataclass(frozen=True, slots=True, eq=False)
class AppliedBand:
    """A tolerance band as it was applied to a curve: absolute, after reference and floating level.

    Arrays have the shape (n,) of the curve's own frequencies that lie in the band; a missing
    limit is infinite. `outside` marks the violations that count. With a decision rule the limits
    are acceptance limits, and `guard` is how much further outside the tolerance limits lie.
    """

    frequency_hz: FloatArray
    values: FloatArray
    lower: FloatArray
    upper: FloatArray
    outside: FloatArray  # 1.0 where a violation counts, else 0.0
    unit: str
    guard: FloatArray | None = None

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "values", "lower", "upper", "outside"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        if self.guard is not None:
            object.__setattr__(self, "guard", read_only(self.guard))


@dataclass(frozen=True, slots=True)
class Conformity:
    """How likely one reading conforms to its tolerance limits, where that is least likely.

    `tolerance` are the tolerance limits there, infinite where a side is open; the acceptance
    limits lie inside them by `guard`. All but the probability are in `unit`.
    """

    standard_uncertainty: float
    guard: float
    conforming_probability: float
    unit: str
    at_hz: float | None
    tolerance: tuple[float, float]

    @property
    def acceptance(self) -> tuple[float, float]:
        """Acceptance limits at the same point."""
        lower, upper = self.tolerance
        return lower + self.guard, upper - self.guard


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision rule of a run, and what it says of each reading whose uncertainty is known."""

    rule: Literal["simple", "guarded"]
    k: float
    r: float | None
    conformities: Mapping[str, Conformity]


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """The verdict on one run with everything that explains it.

    `causes` is ordered, the furthest outside first, and empty for a pass. `next_step` is the one
    sentence the operator reads.
    """

    verdict: Verdict
    causes: tuple[Cause, ...]
    next_step: str
    margins: Mapping[str, Margin] = field(default_factory=dict)
    bands: Mapping[str, AppliedBand] = field(default_factory=dict)
    decision: Decision | None = None
