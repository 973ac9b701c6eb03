"""What a technician reads of a unit, as pure functions of what is known."""

from __future__ import annotations

from collections.abc import Iterator

from station.judging.verdicts.verdict import Verdict
from station.judging.words.words import frequency_words
from station.records.kept.run import Run
from station.records.kept.service import LimitsFrom, Step, StepKind, StoredService
from station.service.asbuilt import ThenAndNow
from station.service.dossier import Dossier

SIGNS = {Verdict.PASS: "✓", Verdict.FAIL: "✗", Verdict.VOID: "↻"}
FROM_WORDS = {
    LimitsFrom.RUN: "stored with its production",
    LimitsFrom.ARCHIVE: "from the archive",
    LimitsFrom.SHELF: "today's, as no older ones were kept",
    LimitsFrom.SERVICE: "a service revision",
}
INSIDE = "Every judged reading lies inside its limits."
DAY = "%Y-%m-%d"


def dossier_lines(dossier: Dossier) -> Iterator[str]:
    """Yield what a unit is, how it left the factory, and what has been done since."""
    built = dossier.as_built
    yield f"{dossier.model}, built to revision {dossier.revision}"
    if dossier.serviced_to:
        yield f"Serviced to revision {dossier.serviced_to}"
    if built is None:
        yield "Nothing is known of it as built."
    elif built.run is not None:
        yield f"Left the factory {built.when}"
    elif built.record is not None:
        yield f"As built: record of {built.when}, {built.record.origin}"
    if not dossier.in_log:
        yield "Its production is not in the log."
    limits = dossier.limits
    yield f"Limits {limits.shelved.name}: {FROM_WORDS[limits.found_in]}"
    for one in dossier.services:
        if not one.is_open:
            yield past_line(one)
    if dossier.open_service is not None:
        yield from service_lines(dossier, dossier.open_service)


def past_line(service: StoredService) -> str:
    """Return an earlier service in a line."""
    parts = ", ".join(step.part for step in service.of_kind(StepKind.PART)) or "no part replaced"
    return f"Service {service.service.opened_utc:{DAY}}: {parts}"


def service_lines(dossier: Dossier, service: StoredService) -> Iterator[str]:
    """Yield the service that is under way, step by step."""
    opened = service.service
    yield f"IN SERVICE since {opened.opened_utc:{DAY}}, {opened.opened_by}"
    if opened.complaint:
        yield f"• complaint: {opened.complaint}"
    for step in service.steps:
        yield f"• {step_line(dossier, step)}"


def step_line(dossier: Dossier, step: Step) -> str:
    """Return a step in a line."""
    match step.kind:
        case StepKind.BEFORE | StepKind.AFTER:
            run = dossier.run(step.run_id)
            verdict = run.judgement.verdict
            by = "" if run.revision == dossier.revision else f" by {run.revision}"
            when = "before" if step.kind is StepKind.BEFORE else "after"
            return f"{SIGNS[verdict]} tested {when} repair{by}: {verdict.value.upper()}"
        case StepKind.PART:
            batch = f" ({step.batch})" if step.batch else ""
            return f"replaced {step.part}{batch}: {step.words or 'no reason given'}"
        case StepKind.CAUSE:
            return f"at fault {step.part}: {step.words or 'confirmed'}"
        case StepKind.PARTNER:
            return f"partner {step.partner}: {step.words}"
        case StepKind.CLOSED:
            return f"closed: {step.words}" if step.words else "closed"


def change_lines(change: ThenAndNow | None) -> Iterator[str]:
    """Yield how a unit differs from itself as built, level and shape apart."""
    if change is None:
        yield "As built: nothing is known."
        return
    if change.why_not:
        yield f"As built: {change.why_not}"
        return
    for one in change.bands:
        match = one.match
        yield (
            f"{frequency_words(one.from_hz)} to {frequency_words(one.to_hz)}: level "
            f"{match.level_db:+.2f} dB, shape {match.worst_db:+.2f} dB at "
            f"{frequency_words(match.worst_hz)}"
        )
    if change.within is not None:
        yield "As built: INSIDE its limits." if change.within else "As built: OUTSIDE its limits."


def run_line(run: Run) -> str:
    """Return a run's verdict with what to do next; a unit in service does not go to packing."""
    verdict = run.judgement.verdict
    said = INSIDE if verdict is Verdict.PASS else run.judgement.next_step
    return f"{SIGNS[verdict]} {verdict.value.upper()}  {said}"


def next_step(dossier: Dossier) -> str:
    """Return the one thing to do next for a unit."""
    service = dossier.open_service
    if service is None:
        return "Open a service for this unit."
    tests = service.of_kind(StepKind.BEFORE, StepKind.AFTER)
    if service.steps and service.steps[-1].kind in (StepKind.PART, StepKind.CAUSE):
        return "Test the unit after the repair."
    if not tests:
        return "Connect the unit and test it before the repair."
    return step_after_test(service, tests[-1].kind, dossier.run(tests[-1].run_id))


def step_after_test(service: StoredService, kind: StepKind, run: Run) -> str:
    """Return what to do after a test."""
    judgement = run.judgement
    if judgement.verdict is Verdict.VOID:
        return judgement.next_step
    if kind is StepKind.BEFORE and judgement.verdict is Verdict.PASS:
        return "It passes as it is: look for what its owner heard, or close the service."
    if kind is StepKind.BEFORE:
        return "Repair it; note each part that you replace, and which part was at fault."
    if judgement.verdict is Verdict.FAIL:
        return judgement.next_step
    if not service.of_kind(StepKind.PARTNER):
        return "Check the partner if it has one; print the certificate; close the service."
    return "Print the certificate, then close the service."
