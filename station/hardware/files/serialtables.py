"""The parts of a station file that describe what hangs on serial ports.

Every limit is a choice of the station's keeper, so none has a default.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from station.tomlfiles.loading import StrictModel

Positive = Annotated[float, Field(gt=0.0)]
Words = Annotated[str, Field(min_length=1)]
OneWord = Annotated[str, Field(pattern=r"^[!-~]{1,24}$")]
WaitS = Annotated[float, Field(gt=0.0, le=600.0)]


class PortTable(StrictModel):
    """A serial port: eight bits, no parity, one stop bit."""

    port: Words
    baud: Annotated[int, Field(ge=300, le=4_000_000)]


class AskedTable(PortTable):
    """A device that is asked and answers."""

    answer_limit_s: Annotated[float, Field(gt=0.0, le=10.0)]
    tries: Annotated[int, Field(ge=1, le=10)]


class HeldModel(StrictModel):
    """How the fixture connects one model: `unit_type` is what its sensor must say, if it has one.

    `bias` says that the fixture switches this model's bias supply.
    """

    model: Words
    relays: Annotated[int, Field(ge=1, le=255)]
    unit_type: OneWord | None = None
    bias: bool = False


class FixtureTable(AskedTable):
    """The fixture, by the name it answers with, and how every model is held in it."""

    name: OneWord
    watch_interval_s: Annotated[float, Field(gt=0.0, le=1.0)]
    move_limit_s: WaitS
    start: Literal["scan", "button"]
    start_limit_s: WaitS | None = None
    models: Annotated[tuple[HeldModel, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def check_models(self) -> FixtureTable:
        """Refuse a model that is held twice, and a button that is waited for without an end."""
        names = [held.model for held in self.models]
        doubled = sorted({name for name in names if names.count(name) > 1})
        if doubled:
            raise ValueError(f"the model {', '.join(doubled)} stands twice")
        if (self.start == "button") != (self.start_limit_s is not None):
            raise ValueError('start_limit_s belongs to start = "button" and is needed there')
        return self

    def held(self, model: str) -> HeldModel | None:
        """Return how a model is held, None if the fixture has no place for it."""
        return next((held for held in self.models if held.model == model), None)


class VoltmeterTable(AskedTable):
    """The instrument that measures the bias, and which voltage counts as safe.

    `ratio` is volts of bias per volt that the instrument shows, behind its divider. What is safe
    to touch is for local codes and licensed practice to say, and so is `safe_v`.
    """

    identity: Words  # a part of what it answers to *IDN?
    ratio: Positive
    safe_v: Positive
    present_from_v: Positive
    rise_limit_s: WaitS
    decay_limit_s: WaitS

    @model_validator(mode="after")
    def check_order(self) -> VoltmeterTable:
        """Refuse a bias that would count as present and safe at once."""
        if self.present_from_v <= self.safe_v:
            raise ValueError("present_from_v must be above safe_v")
        return self


class TurntableTable(AskedTable):
    """The turntable, by the name it answers with."""

    name: OneWord
    tolerance_deg: Positive
    turn_limit_s: WaitS


class SafetyTable(StrictModel):
    """From which level on, unit and room together, ears must be protected."""

    hearing_from_db_spl: Annotated[float, Field(ge=0.0, le=140.0)]
