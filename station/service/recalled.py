"""The newest test of a service as it was shown when it was made, for whoever goes on with it."""

from __future__ import annotations

from dataclasses import replace

from station.analysis.measure import Measured
from station.cycle.unit.report import UnitReport
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.verdict import Judgement
from station.records.kept.run import Run
from station.records.kept.service import Step, StepKind
from station.service.builtlimits import BuiltLimits
from station.service.dossier import Dossier
from station.service.servicetest import ServiceTest, change_of


def newest_test(dossier: Dossier) -> Step | None:
    """Return the newest test of the service under way, if nothing was repaired since."""
    service = dossier.open_service
    done = () if service is None else service.steps
    since = [step for step in done if step.kind is not StepKind.PARTNER]
    tested = since and since[-1].kind in (StepKind.BEFORE, StepKind.AFTER)
    return since[-1] if tested else None


def recalled_test(dossier: Dossier, step: Step, limits: BuiltLimits) -> ServiceTest:
    """Return a test of a service by the limits it was made by."""
    run = dossier.run(step.run_id)
    bands = applied(run, limits.shelved.limits).bands
    shown = replace(run, judgement=replace(run.judgement, bands=bands))
    return ServiceTest(UnitReport((shown,)), step.kind, limits, change_of(dossier, run, limits))


def applied(run: Run, limits: LimitFile) -> Judgement:
    """Return the judgement of stored readings, for the bands as applied, which no log keeps."""
    return judge(Measured(run.readings, ()), limits)
