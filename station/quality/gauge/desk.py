"""Studies where they are made: planned, carried out step by step at a bench, and analysed."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from station.cycle.unit.report import ProgressCallback
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import RefusedInputError
from station.hardware.protocols.clock import Clock
from station.judging.files.shelf import LimitShelf
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.findings import GaugeFindings, gauge_findings
from station.quality.gauge.plan import plan_named, planned, steps_left
from station.records.kept.gauge import GaugeEntry, GaugePlan, GaugeStep
from station.records.kept.run import Run, SetApart
from station.records.log.gauges import GaugeLog


@dataclass(frozen=True, slots=True)
class Asked:
    """What a study is to be; `seed` draws its order."""

    units: tuple[str, ...]
    operators: tuple[str, ...]
    repeats: int
    by: str
    title: str
    seed: int


@dataclass(frozen=True, slots=True)
class Study:
    """A plan and the steps of it that are left, in order."""

    plan: GaugePlan
    left: tuple[GaugeStep, ...]

    @property
    def done(self) -> int:
        """How many steps were carried out."""
        return len(self.plan.steps) - len(self.left)

    @property
    def next_step(self) -> GaugeStep | None:
        """What is to be measured next; None of a complete study."""
        return self.left[0] if self.left else None


class GaugeDesk:
    """The studies of one log."""

    def __init__(self, gauges: GaugeLog, clock: Clock, *, simulated: bool) -> None:
        self._gauges = gauges
        self._clock = clock
        self._simulated = simulated

    def studies(self) -> tuple[Study, ...]:
        """Return every study, oldest first."""
        return tuple(self._with_steps(plan) for plan in self._gauges.plans())

    def study(self, study_id: str) -> Study:
        """Return a study by its id; raise RefusedInputError if there is none."""
        return self._with_steps(plan_named(self._gauges.plans(), study_id))

    def plan(self, asked: Asked, shelf: LimitShelf) -> Study:
        """Store a plan.

        Raises
        ------
        UnknownSerialError
            If no limit file claims a unit.
        RefusedInputError
            If the units are of several models, or there are too few of anything.
        """
        models = {shelf.for_serial(serial).limits.model.name for serial in asked.units}
        if len(models) > 1:
            raise RefusedInputError(
                f"The units are of several models: {', '.join(sorted(models))}.", "Study one model."
            )
        plan = planned(
            f"G{len(self._gauges.plans()) + 1}",
            serials=asked.units,
            operators=asked.operators,
            repeats=asked.repeats,
            model="".join(models),
            title=asked.title,
            by=asked.by,
            at_utc=self._clock.utc_now(),
            simulated=self._simulated,
            seed=asked.seed,
        )
        self._gauges.open_study(plan)
        return Study(plan, plan.steps)

    def carry_out(
        self,
        cycle: UnitCycle,
        study: Study,
        step: GaugeStep,
        *,
        on_progress: ProgressCallback,
        stop: threading.Event,
    ) -> Run:
        """Test the unit of a step, and keep that the run belongs to the study; a void does not.

        Raises
        ------
        StationError
            Whatever a test of a unit may raise; the step is left then.
        """
        report = cycle.test_unit(
            step.serial, on_progress=on_progress, stop=stop, set_apart=SetApart.GAUGE
        )
        final = report.final
        if final.judgement.verdict is not Verdict.VOID:
            self._gauges.add_entry(
                GaugeEntry(study.plan.study_id, step.number, final.run_id, final.started_utc)
            )
        return final

    def findings(self, study_id: str) -> GaugeFindings:
        """Return what a study found; raise RefusedInputError if it is not complete."""
        study = self.study(study_id)
        return gauge_findings(study.plan, self._gauges.runs(study_id))

    def _with_steps(self, plan: GaugePlan) -> Study:
        return Study(plan, steps_left(plan, self._gauges.entries(plan.study_id)))


def refuse_other(name: str, operator: str) -> None:
    """Refuse whoever it is not the turn of."""
    if name != operator:
        raise RefusedInputError(f"That is {name}; it is the turn of {operator}.", "Scan again.")


def names_of(listed: str) -> tuple[str, ...]:
    """Return names that stand between commas."""
    return tuple(name.strip() for name in listed.split(",") if name.strip())
