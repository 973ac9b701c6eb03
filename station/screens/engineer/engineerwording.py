"""Every text the quality engineer reads on the screen, as pure functions of what is to be said."""

from __future__ import annotations

from station.judging.tables.tables import BandTable, NumberTable
from station.judging.verdicts.verdict import Cause, Verdict
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words, quantity_words
from station.quality.learning.factor import Sides
from station.quality.whatif.draft import Counts
from station.records.summaries.runlist import ListedRun

CHOICE_TITLE = "What do you want to look at?"
CHOICE_KEYS = "↑↓ choose   Tab model or period   Enter open   g gauge studies   Ctrl+Q leave"
MODELS_TITLE, PERIODS_TITLE = "Model", "Period"
READING_LOG = "Reading the log …"
NO_MODELS = "The log has no runs yet."
LIMITS_KEYS = (
    "n p other limit  ←→ breakpoint  Tab side  ↑↓ move  PgUp PgDn far  "
    "a add  d delete  u undo  s save"
)
UNITS_KEYS = (
    "↑↓ choose a unit   n p other limit   1 limits   g gauge   c choose again   Ctrl+Q leave"
)
WATCH_KEYS = (
    "n p other reading   k other chart   f curve at a frequency   g gauge   c choose again   "
    "Ctrl+Q leave"
)
FREQUENCY_TITLE = "Chart a curve at one frequency"
FREQUENCY_ASKED = ("Curve and frequency in Hz, such as response@1000",)
FREQUENCY_HINT = "The nearest measured frequency is taken."
SIMULATED = "SIMULATED"
SAVE_TITLE = "Save the draft as"
SAVE_HINT = "Enter saves, Esc goes back. A draft decides nothing until it is released."
NOTHING_TO_SAVE = "Nothing was changed."
NOTHING_TO_UNDO = "There is nothing to undo."
NO_UNITS_WORTH = "No unit flips or fails under this draft."
LEAVE_TITLE = "Leave?"
LEAVE_QUESTION = "The draft has changes that are not saved. Leave without them?   y / n"

VERDICT_MARKS = {Verdict.PASS: "pass", Verdict.FAIL: "FAIL", Verdict.VOID: "void"}


def title_line(model: str, revision: str, runs: int, first_day: str, last_day: str) -> str:
    """Return what is on the desk."""
    return f"{model} {revision}   {runs} units, {first_day} to {last_day}"


def limit_line(
    limit: BandTable | NumberTable, place: int, count: int, failing: int, *, changed: bool
) -> str:
    """Return which limit is shown and how many units it fails by itself."""
    kind = limit.mode if isinstance(limit, BandTable) else "number"
    mark = " (changed)" if changed else ""
    return f"{limit.reading}, {kind}: limit {place + 1} of {count}{mark}; fails {failing} units"


def point_line(
    limit: BandTable | NumberTable, index: int, side: Sides, unit: str, step: float
) -> str:
    """Return what the keys move."""
    if isinstance(limit, NumberTable):
        value = limit.lower if side is Sides.LOWER else limit.upper
        where = ""
    else:
        hz, lower, upper = limit.points[index]
        value = lower if side is Sides.LOWER else upper
        where = f" at {frequency_words(hz)} ({index + 1} of {len(limit.points)})"
        if abs(value) == float("inf"):
            value = None
    words = "open" if value is None else f"{value:g} {unit}"
    return f"◆ {side.value} limit{where}: {words}   ↑↓ {step:g}  PgUp PgDn {10.0 * step:g}"


def counts_line(counts: Counts) -> str:
    """Return how the units end under the draft."""
    told = counts.passed + counts.failed
    share = f" ({100.0 * counts.passed / told:.2f} % pass)" if told else ""
    return f"Under this draft {counts.passed} pass, {counts.failed} fail, {counts.void} void{share}"


def flips_line(counts: Counts) -> str:
    """Return how many units end otherwise than they did."""
    return (
        f"Flips: {counts.newly_failing} would fail and did not, {counts.newly_passing} would pass "
        f"and did not, {counts.newly_void} void"
    )


def unit_line(run: ListedRun, before: Verdict, after: Verdict) -> str:
    """Return one unit of the list: verdict before and under the draft."""
    arrow = f"{VERDICT_MARKS[before]} → {VERDICT_MARKS[after]}"
    return f"{run.serial}  {arrow}"


def unit_title(run: ListedRun, before: Verdict, after: Verdict) -> str:
    """Return which unit is shown."""
    day = run.started_utc[:16].replace("T", " ")
    return (
        f"{run.serial}   {day} UTC   tested: {VERDICT_MARKS[before]}   "
        f"draft: {VERDICT_MARKS[after]}"
    )


def causes_lines(causes: tuple[Cause, ...], most: int) -> str:
    """Return why a unit would not pass, the furthest outside first."""
    shown = [cause.happened for cause in causes[:most]]
    if len(causes) > most:
        shown.append(f"and {len(causes) - most} more")
    return "\n".join(shown)


def number_of_unit(reading: str, value: float, unit: str) -> str:
    """Return what a unit has of a number."""
    return f"{reading}: {quantity_words(value, unit)}"


def no_point(words: str) -> str:
    """Return that an answer names no curve at a frequency."""
    return f"{words!r} is no curve at a frequency. Write it as response@1000, in Hz."


def saved_line(name: str) -> str:
    """Return where a draft was saved."""
    return f"Saved as {name}. Try it, then have it released."


def chart_line(reading: str, unit: str, kind: str, place: int, count: int) -> str:
    """Return which chart is shown, and what its signs are."""
    of = "" if unit == "ratio" else f" in {unit}"
    return (
        f"{reading_words(reading)}{of}, {kind} ({place + 1} of {count})"
        "   • point  ■ outside  ╌ limit  │ baseline"
    )
