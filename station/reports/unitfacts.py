"""One run of one unit with all that paper says of it, gathered from the log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from station.analysis.readings import Curve
from station.cycle.stored.pairs import MatchedBand, response_of
from station.errors import RefusedInputError, TextFileError
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import AppliedBand, Verdict
from station.records.kept.run import Run
from station.records.kept.service import LimitsFrom, StepKind, StoredService
from station.records.log.log import RunLog
from station.records.log.lookup import LogPlace, place_of_run
from station.service.asbuilt import ThenAndNow, matched_bands, matches, then_and_now
from station.service.builtlimits import LimitSources
from station.service.dossier import Dossier, dossier_of
from station.service.recalled import applied

DECIDING = (Verdict.PASS, Verdict.FAIL)  # a void says nothing about the unit


@dataclass(frozen=True, slots=True)
class PartnerFacts:
    """The other unit of the pair as it was checked; `within` is None without a limit for it."""

    serial: str
    whole: MatchedBand
    within: bool | None


@dataclass(frozen=True, slots=True, eq=False)
class UnitFacts:
    """A run with its unit, its limits, its place in the log, and how the unit has changed.

    `limits` is None where the stored text can no longer be read; then there are no `bands`.
    `service` is the one the run was made in, `change` against the unit as built; None else.
    """

    run: Run
    dossier: Dossier
    limits: LimitFile | None
    bands: dict[str, AppliedBand]
    place: LogPlace
    service: StoredService | None
    change: ThenAndNow | None
    partner: PartnerFacts | None

    @property
    def limits_from(self) -> LimitsFrom:
        """Where the limits of this run come from."""
        if self.limits is not None and self.limits.service is not None:
            return LimitsFrom.SERVICE
        return LimitsFrom.RUN if self.service is None else self.service.service.limits_from

    def as_built(self, reading: str) -> Curve | None:
        """Return a curve of the unit as built, None unless this run is a later one."""
        built = self.dossier.as_built
        if self.change is None or built is None or built.entry_id == self.run.run_id:
            return None
        return built.readings.curves.get(reading)


def facts_for(log: RunLog, sources: LimitSources, serial: str, verdict: Verdict) -> UnitFacts:
    """Return the facts of a unit's newest run, which must have this verdict.

    Raises
    ------
    RefusedInputError
        If there is no run, the newest one that says something has another verdict, or it is a
        trial.
    """
    runs = log.runs_of(serial)
    if not runs:
        raise RefusedInputError(f"There is no run of {serial!r}.", "Check the serial number.")
    deciding = [run for run in runs if run.judgement.verdict in DECIDING and not run.trial]
    if not deciding:
        raise RefusedInputError(
            f"No run of {serial} says anything about the unit: they are void or trials.",
            "Test it first.",
        )
    run = deciding[-1]
    if run.judgement.verdict is not verdict:
        other = "rework card" if verdict is Verdict.PASS else "certificate"
        raise RefusedInputError(
            f"The newest run of {serial} is a {run.judgement.verdict.value.upper()}.",
            f"Print its {other} instead, or test the unit again.",
        )
    return facts_of(log, sources, run)


def facts_of(log: RunLog, sources: LimitSources, run: Run) -> UnitFacts:
    """Return the facts of a run."""
    dossier = dossier_of(log, sources, run.serial)
    try:
        limits: LimitFile | None = sources.for_run(run).shelved.limits
    except TextFileError:
        limits = None
    service = service_of_run(dossier.services, run)
    change = None
    if service is not None and limits is not None and dossier.as_built is not None:
        change = then_and_now(dossier.as_built.readings, run.readings, limits)
    bands = {} if limits is None else dict(applied(run, limits).bands)
    return UnitFacts(
        run,
        dossier,
        limits,
        bands,
        place_of_run(log, run.run_id),
        service,
        change,
        partner_of(log, run, service, limits),
    )


def partner_of(
    log: RunLog, run: Run, service: StoredService | None, limits: LimitFile | None
) -> PartnerFacts | None:
    """Return the pair as it was last checked in a service, by the runs there were then."""
    checks = () if service is None else service.of_kind(StepKind.PARTNER)
    if not checks or limits is None:
        return None
    check = checks[-1]
    passed = [
        one
        for one in log.runs_of(check.partner)
        if one.judgement.verdict is Verdict.PASS and one.started_utc < check.made_utc
    ]
    bands = matched_bands(response_of(run), response_of(passed[-1]), limits)
    return PartnerFacts(check.partner, bands[-1], matches(bands, limits.pair))


def service_of_run(services: Sequence[StoredService], run: Run) -> StoredService | None:
    """Return the service in which a run was made."""
    for one in services:
        tests = one.of_kind(StepKind.BEFORE, StepKind.AFTER)
        if any(step.run_id == run.run_id for step in tests):
            return one
    return None
