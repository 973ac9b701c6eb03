"""The shift report for the line lead: a shift in numbers, and where the log ends."""

from __future__ import annotations

from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.quality.watching.leftout import left_out_sentence
from station.records.chains.tips import Tips
from station.records.log.production import LeftOut
from station.records.summaries.shiftsummary import ModelSummary, ShiftSummary
from station.reports.causewords import first_cause_words
from station.reports.codes import HASH_DIGITS, qr_picture
from station.reports.runwords import grouped
from station.reports.sheet import Paper, sheet
from station.reports.translations import Language

RUNS = "runs"


def shift_page(
    summary: ShiftSummary,
    left: LeftOut,
    tips: Tips,
    from_utc: datetime,
    to_utc: datetime,
    language: Language,
    paper: Paper,
    *,
    simulated: bool,
) -> str:
    """Return the page."""
    _ = language.text
    words = {Verdict.PASS: _("PASS"), Verdict.FAIL: _("FAIL"), Verdict.VOID: _("VOID")}
    period = f"{language.instant(from_utc)} – {language.instant(to_utc)}"
    links = {name: link for name, link in tips.links.items() if link[0]}
    number, run_hash = tips.links[RUNS]
    return sheet(
        "shift.html.jinja",
        language,
        paper,
        created=to_utc,
        footer=period,
        period=period,
        qr=qr_picture(
            f"shift {to_utc:%Y-%m-%dT%H:%MZ}\nruns {number}\nhash {run_hash[:HASH_DIGITS]}"
        ),
        warnings=[_("SIMULATED: no real unit was tested.")] if simulated else [],
        models=[model_row(language, model) for model in summary.models],
        left_out=left_out_sentence(left, _),
        causes=[
            (words[kind.verdict], count, first_cause_words(language, kind))
            for kind, count in summary.causes
        ],
        tips=[
            (chain_name(language, name), seq, grouped(own_hash))
            for name, (seq, own_hash) in links.items()
        ],
    )


def chain_name(language: Language, chain: str) -> str:
    """Return what a chain of the log holds."""
    _ = language.text
    names = {
        "runs": _("runs"),
        "calibrations": _("calibrations"),
        "upkeep": _("upkeep"),
        "losses": _("losses"),
        "services": _("services"),
        "service_steps": _("steps of services"),
        "imported_records": _("imported records"),
        "releases": _("releases"),
        "role_acts": _("acts by right of a role"),
        "gauge_studies": _("gauge studies"),
        "gauge_entries": _("measurements of gauge studies"),
    }
    return names.get(chain, chain)


def model_row(language: Language, model: ModelSummary) -> tuple[str, ...]:
    """Return the row of a model."""
    share = language.figures(f"{100.0 * model.first_pass / model.units:.1f} %")
    counts = (model.passed, model.failed, model.void, model.runs)
    return (model.model, str(model.units), f"{model.first_pass} ({share})", *map(str, counts))
