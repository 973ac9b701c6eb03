"""Types of fields that several tables of a limit file share."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from station.tomlfiles.loading import StrictModel

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Words = Annotated[str, Field(min_length=1)]
LanguageCode = Annotated[str, Field(pattern="^[a-z]{2}$")]
PerOctave = Annotated[int, Field(ge=1, le=48)]


class Span(StrictModel):
    """Two rising frequencies."""

    from_hz: Positive
    to_hz: Positive

    @model_validator(mode="after")
    def check_rising(self) -> Span:
        """Refuse a span that does not rise."""
        if self.to_hz <= self.from_hz:
            raise ValueError(f"to_hz {self.to_hz:g} must be above from_hz {self.from_hz:g}")
        return self


# Beyond these a number is a slip of the pen, and computing with it ends in an overflow.
GateS = Annotated[float, Field(gt=0.0, le=60.0)]
DriveV = Annotated[float, Field(ge=1e-3, le=1e3)]
