"""How long a panel's bias is waited for, where the fixture switches it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from station.judging.tables.fieldtypes import GateS, Positive, Span


class BiasTable(Span):
    """Short sweeps over the panel's band, until its level has settled.

    Each lasts `duration_s` between two silences of `silence_s`, and is heard through a gate of
    `gate_s`. Levels are dB SPL at 1 m for the response's voltage. A panel that never reaches
    `missing_below_db_spl`, or settles below `low_below_db_spl`, is not waited for: the limits
    judge it. One that still rises after `at_most_s` is void.
    """

    duration_s: Annotated[float, Field(ge=0.05, le=2.0)]
    silence_s: Annotated[float, Field(ge=0.05, le=2.0)]
    gate_s: GateS
    missing_below_db_spl: float
    low_below_db_spl: float
    settled_within_db: Positive
    at_most_s: Annotated[float, Field(gt=0.0, le=600.0)]

    @model_validator(mode="after")
    def check_levels(self) -> BiasTable:
        """Refuse a bias that would be missing before it is low."""
        if self.low_below_db_spl <= self.missing_below_db_spl:
            raise ValueError("low_below_db_spl must be above missing_below_db_spl")
        return self
