"""The table `[decision]` of a limit file: how the uncertainty of measurement enters the verdict.

The limits of bands and numbers are the tolerance limits. A simple rule accepts up to them; a
guarded one moves the acceptance limits inside by g = r · U, with U = k · u (JCGM 106:2012, 8.2 and
8.3.2). What is not listed under `uncertainties` is judged by its tolerance limits, and no risk
can be stated for it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from station.judging.tables.fieldtypes import Positive, Words
from station.tomlfiles.loading import StrictModel


class UncertaintyTable(StrictModel):
    """The standard uncertainty u of one reading, in the reading's unit: exactly one of three.

    `standard` is one value; `points` are breakpoints [hz, u] of a curve, linear over log
    frequency and constant beyond them; `of_run` takes what each recording states of a number.
    """

    reading: Words
    standard: Positive | None = None
    points: Annotated[tuple[tuple[Positive, Positive], ...], Field(min_length=2)] | None = None
    of_run: bool = False

    @model_validator(mode="after")
    def check_one(self) -> UncertaintyTable:
        """Refuse none or several of the three, and breakpoints that do not rise."""
        if (self.standard is not None) + (self.points is not None) + self.of_run != 1:
            raise ValueError("needs exactly one of standard, points and of_run = true")
        points = self.points or ()
        if any(after[0] <= before[0] for before, after in pairwise(points)):
            raise ValueError("the frequencies of points must rise")
        return self


class DecisionTable(StrictModel):
    """The rule; r belongs to the guarded one. The coverage factor k is stated, never assumed."""

    rule: Literal["simple", "guarded"]
    k: Annotated[float, Field(gt=0.0, le=5.0)]
    r: Annotated[float, Field(gt=0.0, le=5.0)] | None = None
    uncertainties: Annotated[tuple[UncertaintyTable, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def check_rule(self) -> DecisionTable:
        """Refuse a guarded rule without r, a simple one with it, and a reading listed twice."""
        if (self.rule == "guarded") != (self.r is not None):
            raise ValueError("r belongs to rule 'guarded' and is needed there")
        readings = [table.reading for table in self.uncertainties]
        for reading in readings:
            if readings.count(reading) > 1:
                raise ValueError(f"{reading} has two uncertainties")
        return self

    @property
    def guard_factor(self) -> float:
        """Multiples of u by which acceptance limits lie inside the tolerance limits."""
        return 0.0 if self.r is None else self.r * self.k
