"""Any runs beside each other: their curves in one picture each, their numbers in one table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run
from station.reports.curvepicture import Picture, curve_picture, line_sample
from station.reports.quantities import measured_on_paper
from station.reports.readingnames import reading_name
from station.reports.sheet import Paper, Shown, sheet
from station.reports.translations import Language

MOST_RUNS = 6  # as many as can be told apart by their dashes
NO_CURVE_OF_THE_UNIT = ("noise.", "room.")


def comparison(runs: Sequence[Run], curves: Sequence[str], language: Language, paper: Paper) -> str:
    """Return the page; `curves` are the names of those to draw."""
    _ = language.text
    words: Mapping[Verdict, str] = {
        Verdict.PASS: _("PASS"),
        Verdict.FAIL: _("FAIL"),
        Verdict.VOID: _("VOID"),
    }
    rows = [
        (number, run, language.instant(run.started_utc), words[run.judgement.verdict])
        for number, run in enumerate(runs, start=1)
    ]
    return sheet(
        "comparison.html.jinja",
        language,
        paper,
        created=max(run.started_utc for run in runs),
        footer=" · ".join(dict.fromkeys(run.serial for run in runs)),
        warnings=[_("SIMULATED: no real unit was tested.")] if any_simulated(runs) else [],
        runs=rows,
        figures=tuple(figures(runs, curves, language)),
        numbers=tuple(number_rows(runs, language)),
    )


def any_simulated(runs: Sequence[Run]) -> bool:
    """Return whether a run is simulated."""
    return any(run.simulated for run in runs)


def common_curves(runs: Sequence[Run]) -> tuple[str, ...]:
    """Return the curves of the units that at least two runs have, in the order of the first."""
    names = dict.fromkeys(name for run in runs for name in run.readings.curves)
    return tuple(
        name
        for name in names
        if not name.startswith(NO_CURVE_OF_THE_UNIT)
        and sum(name in run.readings.curves for run in runs) >= min(2, len(runs))
    )


def figures(runs: Sequence[Run], curves: Sequence[str], language: Language) -> Iterator[Shown]:
    """Yield one picture for each curve; each run keeps its dashes in all of them."""
    for name in curves:
        there = [(i, run, c) for i, run in enumerate(runs) if (c := run.readings.curves.get(name))]
        if not there:
            continue
        title = reading_name(language, name)
        places = tuple(place for place, _run, _curve in there)
        what = Picture(title, there[0][2].unit, [c for *_, c in there], looks=places)
        legend = [(line_sample(place), f"{place + 1}: {run.serial}") for place, run, _ in there]
        yield Shown(title, curve_picture(language, what), tuple(legend))


def number_rows(runs: Sequence[Run], language: Language) -> Iterator[tuple[str, list[str]]]:
    """Yield each number that a run has, with what every run read."""
    for name in dict.fromkeys(name for run in runs for name in run.readings.numbers):
        values = [
            ""
            if (number := run.readings.numbers.get(name)) is None
            else language.figures(
                measured_on_paper(language, number.value, number.unit, number.uncertainty)
            )
            for run in runs
        ]
        yield reading_name(language, name), values
