"""`station limits forecast`: spread and yield of a model before one unit is built."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
import numpy as np

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.judging.files.limit_file import limit_file
from station.judging.tables.tables import LimitFile
from station.judging.words.words import frequency_words
from station.quality.whatif.forecast import HIGH, LOW, Forecast, ForecastCurve, forecast, spread_of

FORMAT = 1
SHOWN_PER_OCTAVE = 1.0


def forecast_production(path: Path, *, units: int, seed: int, as_json: bool) -> int:
    """Draw units by a limit file's netlist and tell what its limits would say of them."""
    limits, _ = limit_file(path)
    found = forecast(limits, units, seed)
    if as_json:
        click.echo(json.dumps(forecast_object(limits, found), ensure_ascii=False, allow_nan=False))
        return Exit.PASS
    click.echo(forecast_text(limits, found))
    return Exit.PASS


def forecast_text(limits: LimitFile, found: Forecast) -> str:
    """Return a forecast for a terminal."""
    model, count = limits.model, found.units.count
    parts = [
        f"{model.name} {model.revision}: {count} units drawn by the netlist, each part filling its "
        "tolerance (three standard deviations)",
        f"{found.passed} pass and {found.failed} fail by {', '.join(found.judged)}: "
        f"a yield of {100.0 * found.passed / count:.2f} %",
        plain_table(
            ("limit", "units that fail it"),
            [(name, str(fails)) for name, fails in found.fails_by_limit().items()],
        ),
    ]
    for name, (column,) in found.units.curves.items():
        if name in found.judged:
            parts.append(spread_table(name, spread_of(column)))
    numbers = number_rows(found)
    if numbers:
        headers = ("number", f"{LOW:g} %", "median", f"{HIGH:g} %", "")
        parts.append(plain_table(headers, numbers))
    if found.not_forecast:
        parts.append(f"Not forecast, as no netlist tells it: {', '.join(found.not_forecast)}.")
    return "\n\n".join(parts)


def spread_table(name: str, spread: ForecastCurve) -> str:
    """Return the spread of a curve, octave by octave."""
    octaves = np.log2(spread.frequency_hz / spread.frequency_hz[0]) * SHOWN_PER_OCTAVE
    shown = np.unique(np.floor(octaves + 1e-9), return_index=True)[1]
    rows = [
        (
            frequency_words(float(spread.frequency_hz[at])),
            *(f"{float(side[at]):.4g}" for side in (spread.low, spread.middle, spread.high)),
        )
        for at in shown
    ]
    headers = (f"{name} in {spread.unit}", f"{LOW:g} %", "median", f"{HIGH:g} %")
    return plain_table(headers, rows)


def number_rows(found: Forecast) -> list[tuple[str, ...]]:
    """Return the spread of the numbers that are judged."""
    rows = []
    for name, column in found.units.numbers.items():
        if name in found.judged:
            sides = np.percentile(column.values, (LOW, 50.0, HIGH))
            rows.append((name, *(f"{float(side):.4g}" for side in sides), column.unit))
    return rows


def forecast_object(limits: LimitFile, found: Forecast) -> dict[str, Any]:
    """Return a forecast as an object."""
    curves = {
        name: spread_of(column)
        for name, (column,) in found.units.curves.items()
        if name in found.judged
    }
    return {
        "format": FORMAT,
        "model": limits.model.name,
        "revision": limits.model.revision,
        "units": found.units.count,
        "pass": found.passed,
        "fail": found.failed,
        "yield_ratio": found.passed / found.units.count,
        "fails_by_limit": found.fails_by_limit(),
        "judged": list(found.judged),
        "not_forecast": list(found.not_forecast),
        "curves": {
            name: {
                "hz": spread.frequency_hz.tolist(),
                "unit": spread.unit,
                "low": spread.low.tolist(),
                "median": spread.middle.tolist(),
                "high": spread.high.tolist(),
            }
            for name, spread in curves.items()
        },
    }
