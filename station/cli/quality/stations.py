"""`station gauge stations`: whether stations agree on a reference unit."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import log_folder
from station.errors import RefusedInputError
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words
from station.quality.gauge.stations import NumberComparison, StationComparison, station_comparison
from station.records.files.places import DATABASE_NAME
from station.records.kept.run import Run
from station.records.log.log import RunLog

FORMAT = 1
CURVE_HEADERS = ("curve", "means apart by at most", "at", "lowest", "highest")


def compare_stations(serial: str, logs: Sequence[Path], *, simulate: bool, as_json: bool) -> int:
    """Compare all stations whose logs are named."""
    runs: list[Run] = []
    for folder in (log_folder(one, simulated=simulate) for one in logs):
        if not (folder / DATABASE_NAME).exists():
            raise RefusedInputError(f"There is no log in {folder}.", "Name it with --logs.")
        with RunLog.open(folder) as log:
            runs += log.runs_of(serial)
    found = station_comparison(serial, runs)
    if as_json:
        click.echo(json.dumps(comparison_as_object(found), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(comparison_text(found))
    return Exit.PASS


def comparison_text(found: StationComparison) -> str:
    """Return a table with a column per station."""
    stations = list(found.numbers[0].means) if found.numbers else []
    headers = ("reading", *stations, "between stations", "within a station", "alike with p")
    rows = [number_row(one) for one in found.numbers]
    curves = [
        (
            reading_words(one.reading),
            f"{one.largest:.3g} {one.unit}",
            frequency_words(one.at_hz),
            one.between[0],
            one.between[1],
        )
        for one in found.curves
    ]
    return "\n".join(
        [
            f"Reference unit {found.serial}: means by station, and standard deviations.",
            "",
            plain_table(headers, rows),
            "",
            plain_table(CURVE_HEADERS, curves),
        ]
    )


def number_row(one: NumberComparison) -> tuple[str, ...]:
    """Return the row of a number."""
    unit = "" if one.unit == "ratio" else f" {one.unit}"
    within = math.sqrt(one.analysis.within_ms)
    digits = max(0, 1 - math.floor(math.log10(within)))
    means = [f"{mean:.{digits}f} ({one.counts[name]})" for name, mean in one.means.items()]
    return (
        reading_words(one.reading),
        *means,
        f"{math.sqrt(one.analysis.between_variance):.2g}{unit}",
        f"{within:.2g}{unit}",
        f"{one.analysis.p_value:.2g}",
    )


def comparison_as_object(found: StationComparison) -> dict[str, Any]:
    """Return what `--json` prints."""
    return {
        "format": FORMAT,
        "serial": found.serial,
        "numbers": {
            one.reading: {
                "unit": one.unit,
                "runs": dict(one.counts),
                "means": dict(one.means),
                "between_stations": math.sqrt(one.analysis.between_variance),
                "within_station": math.sqrt(one.analysis.within_ms),
                "f_ratio": one.analysis.f_ratio,
                "p_value": one.analysis.p_value,
            }
            for one in found.numbers
        },
        "curves": {
            one.reading: {
                "unit": one.unit,
                "largest_difference": one.largest,
                "at_hz": one.at_hz,
                "lowest": one.between[0],
                "highest": one.between[1],
            }
            for one in found.curves
        },
    }
