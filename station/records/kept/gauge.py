"""A gauge study as it is kept for ever: what is to be measured, by whom, in which order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class GaugeStep:
    """One measurement of a study, counted from 1: who measures which unit for the n-th time."""

    number: int
    serial: str
    operator: str
    repeat: int


@dataclass(frozen=True, slots=True)
class GaugePlan:
    """A crossed study: every operator measures every unit as often, in the order of `steps`."""

    study_id: str
    planned_utc: datetime
    planned_by: str
    simulated: bool
    title: str
    model: str
    serials: tuple[str, ...]
    operators: tuple[str, ...]
    repeats: int
    steps: tuple[GaugeStep, ...]


@dataclass(frozen=True, slots=True)
class GaugeEntry:
    """A step that was carried out, and the stored run that it gave."""

    study_id: str
    step: int
    run_id: str
    measured_utc: datetime

    @property
    def entry_id(self) -> str:
        """What the log knows it by: a step is carried out once."""
        return f"{self.study_id}-{self.step}"
