"""The tables of a limit file, each with the checks it can make by itself.

Every table is optional unless it says otherwise; a reading is computed when its table stands
under `[readings]` (readingtables.py, impedancetables.py), and judged when a `[[bands]]` or
`[[numbers]]` entry names it.
"""

from __future__ import annotations

import math
import re
import warnings
from datetime import date
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, ValidationInfo, field_validator, model_validator

from station.analysis.statistics.population import PatternModel
from station.judging.tables.biastables import BiasTable
from station.judging.tables.decisiontables import DecisionTable
from station.judging.tables.fieldtypes import LanguageCode, NotNegative, Positive, Words
from station.judging.tables.netlisttables import NetlistTable
from station.judging.tables.readingtables import ReadingsTable
from station.judging.tables.revisions import fault_of_start
from station.judging.tables.safetytables import SafetyTable
from station.judging.tables.servicetables import MatchTable, ServiceTable
from station.tomlfiles.loading import StrictModel


class ModelTable(StrictModel):
    """What the file is for, who stands for it, and which serial numbers it claims.

    `holds_from` says with which unit this revision begins; see revisions.py.
    """

    name: Words
    revision: Words
    serial: Words  # regular expression that the whole serial number must match
    author: Words
    day: date
    reason: Words
    holds_from: Words | None = None

    @field_validator("serial")
    @classmethod
    def check_pattern(cls, pattern: str) -> str:
        """Refuse a serial pattern that is no regular expression."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")  # what a later Python reads otherwise
                re.compile(pattern)
        except (re.error, FutureWarning) as error:
            raise ValueError(f"not a regular expression: {error}") from error
        return pattern

    @field_validator("holds_from")
    @classmethod
    def check_start(cls, holds_from: str | None, info: ValidationInfo) -> str | None:
        """Refuse a start that no serial number can be compared with."""
        pattern = info.data.get("serial")
        if pattern is not None and holds_from is not None:
            fault = fault_of_start(pattern, holds_from)
            if fault is not None:
                raise ValueError(fault)
        return holds_from


class StimulusTable(StrictModel):
    """The sweep; see analysis.sweep.Sweep."""

    start_hz: Positive
    faded_in_hz: Positive
    stop_hz: Positive
    duration_s: Annotated[float, Field(gt=0.0, le=20.0)]
    level_v: Positive
    lead_in_s: Annotated[float, Field(ge=0.05, le=5.0)]
    tail_s: Annotated[float, Field(ge=0.05, le=5.0)]
    rate_hz: Positive

    @model_validator(mode="after")
    def check_order(self) -> StimulusTable:
        """Refuse a sweep that does not rise or that the sampling rate cannot carry."""
        if not self.start_hz < self.faded_in_hz < self.stop_hz:
            raise ValueError("need start_hz < faded_in_hz < stop_hz")
        if self.stop_hz >= self.rate_hz / 2.0:
            raise ValueError(f"stop_hz {self.stop_hz:g} needs rate_hz above {2 * self.stop_hz:g}")
        if self.duration_s * self.start_hz < 2.0:
            raise ValueError("duration_s must hold two periods of start_hz or more")
        return self


class ConditionsTable(StrictModel):
    """At which temperatures of room and unit the limits hold; outside, no unit is tested."""

    from_c: float
    to_c: float

    @model_validator(mode="after")
    def check_order(self) -> ConditionsTable:
        """Refuse a range that does not rise."""
        if self.to_c <= self.from_c:
            raise ValueError("to_c must be above from_c")
        return self


class IntegrityTable(StrictModel):
    """When a recording cannot be trusted; see analysis.plan.IntegrityPlan."""

    level_tolerance_db: Positive
    silent_below_dbfs: Annotated[float, Field(lt=0.0)]
    residual_db: Annotated[float, Field(lt=0.0)]
    quiet_below_db_spl: Positive
    clock_ppm: Positive | None = None


class ReferenceTable(StrictModel):
    """Complex response of the reference unit; level in dB re 1 Pa/V at 1 m, flight time removed."""

    unit: Words
    hz: Annotated[tuple[Positive, ...], Field(min_length=2)]
    db: tuple[float, ...]
    deg: tuple[float, ...]

    @model_validator(mode="after")
    def check_lengths(self) -> ReferenceTable:
        """Refuse columns of different length and frequencies that do not rise."""
        if not len(self.hz) == len(self.db) == len(self.deg):
            raise ValueError(
                f"hz, db and deg hold {len(self.hz)}, {len(self.db)} and {len(self.deg)} values; "
                "they must hold as many"
            )
        if any(after <= before for before, after in zip(self.hz, self.hz[1:], strict=False)):
            raise ValueError("hz must rise")
        return self


class BandTable(StrictModel):
    """A tolerance band on a curve: breakpoints [hz, lower, upper], linear over log frequency.

    `absolute` limits are in the curve's unit; `relative` ones are dB against the reference;
    `floating` ones likewise after the curve's mean offset, itself limited to `offset_db`, is
    taken out. An infinite limit (`inf`, `-inf`) leaves that side open.
    """

    reading: Words
    mode: Literal["absolute", "relative", "floating"]
    points: Annotated[tuple[tuple[Positive, float, float], ...], Field(min_length=2)]
    scale: Positive
    offset_db: Positive | None = None
    forgive_octaves: NotNegative = 0.0
    forgive_depth: NotNegative = 0.0

    model_config = ConfigDict(allow_inf_nan=True)

    @field_validator("points")
    @classmethod
    def check_points(
        cls, points: tuple[tuple[float, float, float], ...]
    ) -> tuple[tuple[float, float, float], ...]:
        """Refuse breakpoints that do not rise, cross, or are not numbers."""
        for index, (hz, lower, upper) in enumerate(points):
            if math.isnan(lower) or math.isnan(upper) or not math.isfinite(hz):
                raise ValueError(f"breakpoint {index + 1} is not a number")
            if lower >= upper:
                raise ValueError(
                    f"breakpoint {index + 1}: lower {lower:g} is not below upper {upper:g}"
                )
            if index and hz <= points[index - 1][0]:
                raise ValueError(f"breakpoint {index + 1}: {hz:g} Hz does not rise")
        for side in (1, 2):
            if len({math.isinf(point[side]) for point in points}) > 1:
                raise ValueError("a side is either open at every breakpoint or at none")
        return points

    @model_validator(mode="after")
    def check_offset(self) -> BandTable:
        """Refuse a floating band without, or another with, a limit on the offset."""
        if (self.mode == "floating") != (self.offset_db is not None):
            raise ValueError("offset_db belongs to mode 'floating' and is needed there")
        return self


class NumberTable(StrictModel):
    """Limits on a number; `scale` is how much outside counts as one step of severity.

    `absent` says what it means when a trusted recording does not hold the reading: "void", or
    "fail" for what only a faulty unit lacks, such as the resonance of an open voice coil.
    With `settles_within` the number may take its time, as the level of a panel whose bias was just
    switched on: outside it is read again, and fails once it moved by no more than this.
    """

    reading: Words
    lower: float | None = None
    upper: float | None = None
    scale: Positive
    absent: Literal["void", "fail"] = "void"
    settles_within: Positive | None = None

    @model_validator(mode="after")
    def check_limits(self) -> NumberTable:
        """Refuse a number without limits, or with limits that cross."""
        if self.lower is None and self.upper is None:
            raise ValueError(f"{self.reading} has neither lower nor upper")
        if self.lower is not None and self.upper is not None and self.lower >= self.upper:
            raise ValueError(f"lower {self.lower:g} is not below upper {self.upper:g}")
        return self


class Finding(StrictModel):
    """A condition of an advice: a reading that fails, on which side, where and how much of it."""

    reading: Words
    side: Literal["below", "above", "either"] = "either"
    from_hz: Positive | None = None
    to_hz: Positive | None = None
    by: NotNegative = 0.0
    share: Annotated[float, Field(ge=0.0, le=1.0)] = 0.0


class AdviceTable(StrictModel):
    """One sentence for the operator, said when all of `when` and none of `unless` holds.

    The first in the file that fits is said. With `void`, what fails so says nothing about the
    unit: another model stands in the fixture, or nothing is connected.
    """

    when: Annotated[tuple[Finding, ...], Field(min_length=1)]
    unless: tuple[Finding, ...] = ()
    say: Words
    void: bool = False


class RepeatsTable(StrictModel):
    """How often a void measurement is repeated by itself.

    `noise` counts the repeats after a fail that a noise in the room may have made, `void` all
    others. Where no ambient microphone tells, a unit fails only if 1 + `noise` sweeps agree.
    """

    void: Annotated[int, Field(ge=0, le=10)]
    noise: Annotated[int, Field(ge=0, le=10)]


class LimitFile(StrictModel):
    """A whole limit file.

    `translations` has, by the language of a paper (`de`), what each advice is there; paper shows
    one without as it was written. `learned` is no table: it is what the pattern file holds, put
    there by who read it.
    """

    model_config = ConfigDict(arbitrary_types_allowed=True)

    format: Literal[1]
    model: ModelTable
    stimulus: StimulusTable
    repeats: RepeatsTable
    integrity: IntegrityTable
    safety: SafetyTable | None = None
    bias: BiasTable | None = None
    conditions: ConditionsTable | None = None
    readings: ReadingsTable
    reference: ReferenceTable | None = None
    bands: tuple[BandTable, ...] = ()
    numbers: tuple[NumberTable, ...] = ()
    advice: tuple[AdviceTable, ...] = ()
    netlist: NetlistTable | None = None
    decision: DecisionTable | None = None
    service: ServiceTable | None = None
    as_built: MatchTable | None = None
    pair: MatchTable | None = None
    translations: dict[LanguageCode, dict[Words, Words]] = Field(default_factory=dict)
    learned: PatternModel | None = Field(default=None, exclude=True)

    @field_validator("learned", mode="before")
    @classmethod
    def check_learned(cls, learned: object) -> object:
        """Refuse a table of this name."""
        raise ValueError(f"there is no table 'learned'; got {learned!r:.40}")
