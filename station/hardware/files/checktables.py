"""The station check in a station file: which units are kept for it, and how often it is due."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, field_validator

from station.tomlfiles.loading import StrictModel

Positive = Annotated[float, Field(gt=0.0)]


class CheckTable(StrictModel):
    """Kept units and rules; without this table the station is never due for a check.

    A check is the test of one of the `serials`. It holds for `every_hours` and `every_units`
    units. The response is compared with that unit's first one on this station, over its whole
    range: its mean level may have moved by `level_drift_db`, any band beyond that by
    `shape_drift_db`. So many units in a row that fail for one cause ask for a check out of turn.
    """

    serials: Annotated[tuple[str, ...], Field(min_length=1)]
    every_hours: Positive
    every_units: Annotated[int, Field(ge=1)]
    level_drift_db: Positive
    shape_drift_db: Positive
    same_cause_fails: Annotated[int, Field(ge=2)]

    @field_validator("serials")
    @classmethod
    def check_serials(cls, serials: tuple[str, ...]) -> tuple[str, ...]:
        """Refuse a serial number named twice or empty."""
        if len(set(serials)) != len(serials) or not all(serials):
            raise ValueError("each reference unit must be named once")
        return serials
