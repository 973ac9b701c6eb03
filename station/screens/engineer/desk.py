"""What lies on the engineer's desk: a draft, its earlier forms, and what of it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from station.errors import RefusedInputError
from station.judging.tables.tables import BandTable, NumberTable
from station.judging.verdicts.bands import limits_at
from station.quality.judged.manyunits import rows_failing, tables_of
from station.quality.learning.factor import Sides
from station.quality.watching.curves import CurvePoint
from station.quality.watching.watched import Watched
from station.quality.whatif.draft import Draft
from station.quality.whatif.edit import (
    COLUMN,
    added_point,
    is_open,
    moved_number,
    moved_point,
    removed_point,
    step_of,
)
from station.quality.whatif.spread import CurveSpread, curve_spread, number_values, outliers
from station.records.summaries.runlist import Period
from station.screens.engineer.plot import CurvesPicture, NumbersPicture


class Workshop(Protocol):
    """Where drafts come from and go to."""

    @property
    def simulated(self) -> bool:
        """Whether the runs are simulated ones."""

    def models(self) -> tuple[str, ...]:
        """Return the models that can be looked at."""

    def opened(self, model: str, period: Period) -> Draft:
        """Return a model's limits on its runs in a period; raise StationError."""

    def watched(self, model: str, period: Period, points: tuple[CurvePoint, ...]) -> Watched:
        """Return a model's production in a period; raise StationError.

        `points` are curves at single frequencies, to be watched like numbers.
        """

    def suggested_name(self, draft: Draft) -> str:
        """Return how a draft could be called."""

    def saved(self, draft: Draft, name: str) -> Path:
        """Write a draft to a file and return where; raise StationError."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which limit is shown, which of its breakpoints and sides the keys move."""

    place: int = 0
    index: int = 0
    side: Sides = Sides.UPPER


class Desk:
    """Changes a draft step by step, and can take each step back."""

    def __init__(self, draft: Draft, period: Period) -> None:
        self.period = period  # that the draft is tried on
        self.history: list[Draft] = [draft]
        self.chosen = chosen_at(draft, 0)
        self.saved = True
        self._spreads: dict[int, CurveSpread | None] = {}

    @property
    def draft(self) -> Draft:
        """The draft as it is now."""
        return self.history[-1]

    @property
    def limit(self) -> BandTable | NumberTable:
        """The limit that is shown."""
        return tables_of(self.draft.limits)[self.chosen.place]

    @property
    def failing(self) -> int:
        """How many units the limit that is shown fails by itself."""
        return int(rows_failing(self.draft.applied[self.chosen.place]).size)

    @property
    def point(self) -> CurvePoint | None:
        """The curve and frequency of the chosen breakpoint; None of a number."""
        if isinstance(self.limit, NumberTable):
            return None
        return CurvePoint(self.limit.reading, self.limit.points[self.chosen.index][0])

    def turn(self, by: int) -> None:
        """Show another limit."""
        count = len(tables_of(self.draft.limits))
        self.chosen = chosen_at(self.draft, (self.chosen.place + by) % count)

    def step_along(self, by: int) -> None:
        """Choose another breakpoint; of a number, the other limit."""
        if isinstance(self.limit, NumberTable):
            self.other_side()
            return
        count = len(self.limit.points)
        index = min(max(self.chosen.index + by, 0), count - 1)
        self.chosen = Chosen(self.chosen.place, index, self.chosen.side)

    def other_side(self) -> None:
        """Choose the other side of the limit."""
        side = Sides.LOWER if self.chosen.side is Sides.UPPER else Sides.UPPER
        self.chosen = Chosen(self.chosen.place, self.chosen.index, side)

    def move(self, steps: int) -> None:
        """Move what is chosen; raise RefusedInputError where limits would meet."""
        by = steps * step_of(self.limit)
        if isinstance(self.limit, BandTable):
            table: BandTable | NumberTable = moved_point(
                self.limit, self.chosen.index, self.chosen.side, by
            )
        else:
            table = moved_number(self.limit, self.chosen.side, by)
        self._change(table)

    def add(self) -> None:
        """Add a breakpoint behind the chosen one, and choose it."""
        table, index = added_point(self._band(), self.chosen.index)
        self._change(table)
        self.chosen = Chosen(self.chosen.place, index, self.chosen.side)

    def delete(self) -> None:
        """Take the chosen breakpoint away."""
        self._change(removed_point(self._band(), self.chosen.index))
        self.step_along(0)

    def undo(self) -> bool:
        """Take the last change back; return whether there was one."""
        if len(self.history) == 1:
            return False
        self.history.pop()
        self.saved = False
        self.step_along(0)
        return True

    def picture(self) -> CurvesPicture | NumbersPicture | None:
        """Return what is drawn of the limit that is shown, None if no unit has its reading."""
        limit, units = self.limit, self.draft.units.readings
        if isinstance(limit, NumberTable):
            values, unit = number_values(units, limit)
            if values.size == 0:
                return None
            lower = -np.inf if limit.lower is None else limit.lower
            upper = np.inf if limit.upper is None else limit.upper
            return NumbersPicture(values, lower, upper, self.chosen.side is Sides.LOWER, unit)
        return self._curves_picture(limit)

    def unit_words(self) -> str:
        """Return the unit of what is shown."""
        limit, units = self.limit, self.draft.units.readings
        if isinstance(limit, NumberTable):
            return number_values(units, limit)[1]
        spread = self._spread(limit)
        return "" if spread is None else spread.unit

    def _curves_picture(self, band: BandTable) -> CurvesPicture | None:
        spread = self._spread(band)
        if spread is None:
            return None
        units, limits = self.draft.units.readings, self.draft.limits
        out = outliers(units, band, limits, self.draft.applied[self.chosen.place])
        nothing = np.full(spread.middle.size, np.nan)
        lower, upper = limits_at(spread.frequency_hz, band)
        column = COLUMN[self.chosen.side]
        return CurvesPicture(
            spread.frequency_hz,
            spread.low,
            spread.middle,
            spread.high,
            lower,
            upper,
            nothing if out is None else out.highest,
            nothing if out is None else out.lowest,
            [(point[0], point[column]) for point in band.points],
            self.chosen.index,
            spread.unit,
        )

    def _spread(self, band: BandTable) -> CurveSpread | None:
        place = self.chosen.place
        if place not in self._spreads:  # curves do not change while their limits do
            draft = self.draft
            self._spreads[place] = curve_spread(draft.units.readings, band, draft.limits)
        return self._spreads[place]

    def _band(self) -> BandTable:
        if isinstance(self.limit, NumberTable):
            raise RefusedInputError("A number has no breakpoints.", "Show a curve with n or p.")
        return self.limit

    def _change(self, table: BandTable | NumberTable) -> None:
        self.history.append(self.draft.with_limit(self.chosen.place, table))
        self.saved = False


def chosen_at(draft: Draft, place: int) -> Chosen:
    """Return the first breakpoint of a limit, on a side that is there."""
    limit = tables_of(draft.limits)[place]
    side = Sides.LOWER if is_open(limit, Sides.UPPER) else Sides.UPPER
    return Chosen(place, 0, side)
