"""What a draft would change, as tables and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from station.cli.shared.tables import plain_table
from station.quality.watching.leftout import left_out_as_object, left_out_sentence
from station.quality.whatif.pictures import BandPicture
from station.quality.whatif.report import Ending, Flip, Tally, WhatIf
from station.records.log.production import LeftOut
from station.records.summaries.runlist import ListedRun

FORMAT = 1
LISTED_CAUSES = 8


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """A draft tried on stored runs."""

    draft: str
    model: str
    revision: str
    against: str | None  # the limit file it is compared with; None: how the runs were judged
    runs: Sequence[ListedRun]
    changes: WhatIf
    differing: tuple[str, ...]  # tables by which the draft would read otherwise
    unread: tuple[tuple[str, int], ...]  # judged readings that so many runs do not hold
    from_recordings: bool
    pictures: tuple[BandPicture, ...] = ()  # of stored readings
    left_out: LeftOut = field(default_factory=LeftOut)


def tried_text(tried: Tried, worst: int) -> str:
    """Return what changes, for a terminal."""
    changes = tried.changes
    before = f"under {tried.against}" if tried.against else "as tested"
    parts = [
        heading(tried),
        plain_table(
            ("", "pass", "fail", "void", "yield"),
            [tally_row(before, changes.before), tally_row("under the draft", changes.after)],
        ),
        flips_sentence(changes),
        *causes_part(before, changes),
        *listed("Would fail and did not, the furthest outside first", changes.newly_failing, worst),
        *listed("Would pass and did not", changes.newly_passing, worst),
        *listed("Would still fail", changes.still_failing, worst),
        *warnings(tried),
    ]
    return "\n\n".join(parts)


def heading(tried: Tried) -> str:
    """Return what was tried on what."""
    first, last = tried.runs[0].started_utc[:10], tried.runs[-1].started_utc[:10]
    units = len({run.serial for run in tried.runs})
    what = "recordings" if tried.from_recordings else "stored readings"
    return (
        f"{tried.draft} ({tried.model} {tried.revision}) on the {what} of {len(tried.runs)} runs "
        f"of {units} units, {first} to {last}"
    )


def tally_row(name: str, tally: Tally) -> tuple[str, ...]:
    """Return one row of the table of verdicts."""
    return (
        name, str(tally.passed), str(tally.failed), str(tally.void), percent(tally.yield_ratio),
    )  # fmt: skip


def percent(ratio: float | None) -> str:
    """Return a share in percent."""
    return "" if ratio is None else f"{100.0 * ratio:.2f} %"


def flips_sentence(changes: WhatIf) -> str:
    """Return how many runs end otherwise."""
    return (
        f"{len(changes.newly_failing)} would fail and did not, "
        f"{len(changes.newly_passing)} would pass and did not, "
        f"{len(changes.newly_void)} would be void and were not."
    )


def causes_part(before: str, changes: WhatIf) -> Iterator[str]:
    """Yield the fails by first cause."""
    now, then = changes.after.causes, changes.before.causes
    names = sorted({*now, *then}, key=lambda name: -(now.get(name, 0) + then.get(name, 0)))
    if names:
        rows = [
            (name, str(then.get(name, 0)), str(now.get(name, 0))) for name in names[:LISTED_CAUSES]
        ]
        yield plain_table(("fails by first cause", before, "under the draft"), rows)


def listed(title: str, flips: Sequence[Flip], most: int) -> Iterator[str]:
    """Yield a table of runs, if there are any."""
    if not flips or not most:
        return
    rows = [
        (
            flip.run.serial,
            flip.run.started_utc[:16].replace("T", " "),
            ending_words(flip.before),
            ending_words(flip.after),
            "" if flip.after.severity is None else f"{flip.after.severity:.2f}",
        )
        for flip in flips[:most]
    ]
    more = "" if len(flips) <= most else f" ({most} of {len(flips)})"
    headers = ("serial", "UTC", "before", "under the draft", "steps outside")
    yield f"{title}{more}\n" + plain_table(headers, rows)


def ending_words(ending: Ending) -> str:
    """Return a verdict with its cause."""
    cause = f": {ending.cause}" if ending.cause else ""
    return f"{ending.verdict.value}{cause}"


def warnings(tried: Tried) -> Iterator[str]:
    """Yield what stored readings cannot tell, and which runs were not asked."""
    if sentence := left_out_sentence(tried.left_out):
        yield sentence
    if tried.differing:
        names = " and ".join(f"[{name}]" for name in tried.differing)
        yield (
            f"The runs were read by another {names} than the draft's, and are judged here as they "
            "were read. --from-recordings reads them anew."
        )
    for name, count in tried.unread:
        yield f"{count} runs hold no {name} that this draft could judge; they count as void."


def tried_as_json(tried: Tried, worst: int) -> str:
    """Return what changes as one line of JSON."""
    changes = tried.changes
    return json.dumps(
        {
            "format": FORMAT,
            "draft": tried.draft,
            "model": tried.model,
            "revision": tried.revision,
            "against": tried.against,
            "from_recordings": tried.from_recordings,
            "runs": len(tried.runs),
            "units": len({run.serial for run in tried.runs}),
            "left_out": left_out_as_object(tried.left_out),
            "before": tally_object(changes.before),
            "after": tally_object(changes.after),
            "newly_failing": flip_objects(changes.newly_failing, worst),
            "newly_passing": flip_objects(changes.newly_passing, worst),
            "newly_void": flip_objects(changes.newly_void, worst),
            "still_failing": flip_objects(changes.still_failing, worst),
            "differing_tables": list(tried.differing),
            "not_read": [{"reading": name, "runs": count} for name, count in tried.unread],
        },
        ensure_ascii=False,
        allow_nan=False,
    )


def tally_object(tally: Tally) -> dict[str, Any]:
    """Return a tally as an object."""
    return {
        "pass": tally.passed,
        "fail": tally.failed,
        "void": tally.void,
        "yield_ratio": tally.yield_ratio,
        "first_causes": dict(tally.causes),
    }


def flip_objects(flips: Sequence[Flip], most: int) -> dict[str, Any]:
    """Return how many runs, and the first of them."""
    return {
        "count": len(flips),
        "runs": [
            {
                "serial": flip.run.serial,
                "run": flip.run.run_id,
                "utc": flip.run.started_utc,
                "before": flip.before.verdict.value,
                "before_cause": flip.before.cause,
                "after": flip.after.verdict.value,
                "after_cause": flip.after.cause,
                "severity": flip.after.severity,
            }
            for flip in flips[:most]
        ],
    }
