"""What a model must not be given, and how loud it gets: what harms the unit or the people."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from station.judging.tables.fieldtypes import Positive
from station.tomlfiles.loading import StrictModel

Level = Annotated[float, Field(ge=0.0, le=140.0)]


class SafetyTable(StrictModel):
    """The model's own limits; no sweep plays that exceeds them.

    `loudest_db_spl` is the level to be expected at the microphone where the sweep is loudest.
    """

    largest_peak_v: Positive
    loudest_db_spl: Level
