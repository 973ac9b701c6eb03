"""A test of a unit in service, and how the unit has changed since it was built."""

from __future__ import annotations

from dataclasses import dataclass

from station.cycle.unit.report import UnitReport
from station.records.kept.run import Run
from station.records.kept.service import StepKind
from station.service.asbuilt import ThenAndNow, then_and_now
from station.service.builtlimits import BuiltLimits
from station.service.dossier import Dossier


@dataclass(frozen=True, slots=True, eq=False)
class ServiceTest:
    """A test in service: before or after the repair, by which limits, and against as built.

    `change` is None where nothing is known of the unit as built.
    """

    report: UnitReport
    kind: StepKind
    limits: BuiltLimits
    change: ThenAndNow | None

    @property
    def final(self) -> Run:
        """The run that decides."""
        return self.report.final


def change_of(dossier: Dossier, run: Run, limits: BuiltLimits) -> ThenAndNow | None:
    """Return how a run differs from the unit as built, None if that is not known."""
    if dossier.as_built is None:
        return None
    return then_and_now(dossier.as_built.readings, run.readings, limits.shelved.limits)
