"""`station shift-report`: a shift in numbers, with the tips that let paper prove the log."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.openlog import folder_with_log
from station.errors import RefusedInputError
from station.quality.watching.leftout import left_out_as_object, left_out_sentence
from station.records.chains.tips import Tips
from station.records.log.log import RunLog
from station.records.log.production import LeftOut, left_out
from station.records.summaries.runlist import Period
from station.records.summaries.shiftsummary import ModelSummary, ShiftSummary
from station.reports.causewords import first_cause_words
from station.reports.translations import language

FORMAT = 1
ENGLISH = language("en")
HEADERS = ("model", "units", "passed at once", "passed", "failed", "void", "runs")
CAUSE_WIDTHS = (None, None, 60)


def show_shift_report(
    logs: Path, from_utc: datetime, to_utc: datetime, *, simulate: bool, as_json: bool
) -> int:
    """Print how the units of a period went."""
    if from_utc >= to_utc:
        raise RefusedInputError("The shift ends before it begins.", "Mend --from or --to.")
    folder = folder_with_log(logs, simulate=simulate)
    with RunLog.open(folder) as log:
        summary, tips = log.shift_summary(from_utc, to_utc), log.tips()
        left = left_out(log, None, Period(from_utc, to_utc))
    if as_json:
        found = {**json_of(summary, tips, from_utc, to_utc), "left_out": left_out_as_object(left)}
        click.echo(json.dumps(found))
        return Exit.PASS
    for line in lines_of(summary, left, tips, from_utc, to_utc, simulate=simulate):
        click.echo(line)
    return Exit.PASS


def lines_of(
    summary: ShiftSummary,
    left: LeftOut,
    tips: Tips,
    from_utc: datetime,
    to_utc: datetime,
    *,
    simulate: bool,
) -> Iterator[str]:
    """Yield the report for people."""
    kind = "Simulated shift" if simulate else "Shift"
    yield f"{kind} from {from_utc:%Y-%m-%d %H:%M} to {to_utc:%Y-%m-%d %H:%M} UTC"
    yield ""
    if not summary.models:
        yield "No unit was tested."
    else:
        yield plain_table(HEADERS, [model_row(model) for model in summary.models])
    if sentence := left_out_sentence(left):
        yield sentence
    if summary.causes:
        rows = [
            (kind.verdict.value, str(count), first_cause_words(ENGLISH, kind))
            for kind, count in summary.causes
        ]
        yield ""
        yield plain_table(("", "runs", "first cause"), rows, CAUSE_WIDTHS)
    yield ""
    yield "The log ends here. Keep this page: 'station verify-log --tip HASH' proves it later."
    for table, (seq, own_hash) in tips.links.items():
        if seq:
            yield f"{table} {seq}"
            yield f"  {own_hash}"


def model_row(model: ModelSummary) -> tuple[str, ...]:
    """Return the row of a model."""
    counts = (model.passed, model.failed, model.void, model.runs)
    at_once = f"{model.first_pass} ({100.0 * model.first_pass / model.units:.1f} %)"
    return (model.model, str(model.units), at_once, *map(str, counts))


def json_of(
    summary: ShiftSummary, tips: Tips, from_utc: datetime, to_utc: datetime
) -> dict[str, object]:
    """Return the report as one JSON object."""
    return {
        "format": FORMAT,
        "from_utc": from_utc.isoformat(),
        "to_utc": to_utc.isoformat(),
        "models": [asdict(model) for model in summary.models],
        "causes": [
            {
                "verdict": kind.verdict.value,
                "reading": kind.reading,
                "side": kind.side,
                "happened": first_cause_words(ENGLISH, kind),
                "runs": count,
            }
            for kind, count in summary.causes
        ],
        "tips": {
            table: {"number": seq, "hash": own_hash}
            for table, (seq, own_hash) in tips.links.items()
            if seq
        },
    }
