"""Measurements from before the log: a table of curves and numbers, typed in or exported.

A CSV file in UTF-8 with the columns name, hz, value and unit. A row without hz is a number, rows
with one are the points of a curve in rising order. Lines that begin with # are remarks.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.errors import TextFileError

COLUMNS = ["name", "hz", "value", "unit"]
Point = tuple[float, float]
REMEDY = "Mend the file and import it again; nothing was stored."


def readings_of_old_record(text: str, file_name: str) -> Readings:
    """Return the readings of an old record.

    Raises
    ------
    TextFileError
        With every fault of the file, each with its line.
    """
    rows = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip() and not line.startswith("#")
    ]
    cells = [(number, next(csv.reader([line]))) for number, line in rows]
    if not cells or [cell.strip() for cell in cells[0][1]] != COLUMNS:
        at = cells[0][0] if cells else 1
        raise refused(file_name, [f"{file_name}:{at}: the columns must be {', '.join(COLUMNS)}"])
    numbers: dict[str, Number] = {}
    points: dict[tuple[str, str], list[Point]] = {}
    faults = []
    for number, row in cells[1:]:
        try:
            name, at_hz, value, unit = parsed(row)
            if at_hz is None:
                add_number(numbers, name, value, unit)
            else:
                add_point(points, name, unit, (at_hz, value))
        except ValueError as error:
            faults.append(f"{file_name}:{number}: {error}")
    faults += [f"{file_name}: {words}" for words in faults_of_names(numbers, points)]
    if faults:
        raise refused(file_name, faults)
    return Readings(numbers, {name: curve_of(points[name, unit], unit) for name, unit in points})


def parsed(row: list[str]) -> tuple[str, float | None, float, str]:
    """Return name, frequency, value and unit of a row; raise ValueError with what is wrong."""
    if len(row) != len(COLUMNS):
        raise ValueError(f"has {len(row)} columns, not {len(COLUMNS)}")
    name, at, value, unit = (cell.strip() for cell in row)
    if not name:
        raise ValueError("names no reading")
    return name, finite(at) if at else None, finite(value), unit


def finite(cell: str) -> float:
    """Return a number; raise ValueError unless it is one, with a point."""
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{cell!r} is not a number (decimals have a point)")
    return number


def add_number(numbers: dict[str, Number], name: str, value: float, unit: str) -> None:
    """Keep a number that is not there yet."""
    if name in numbers:
        raise ValueError(f"the number {name} stands there twice")
    numbers[name] = Number(value, unit)


def add_point(
    points: dict[tuple[str, str], list[Point]], name: str, unit: str, point: Point
) -> None:
    """Keep a point of a curve, which must rise."""
    curve = points.setdefault((name, unit), [])
    if point[0] <= 0.0:
        raise ValueError("a frequency is above zero")
    if curve and point[0] <= curve[-1][0]:
        raise ValueError(f"the frequencies of {name} must rise")
    curve.append(point)


def faults_of_names(
    numbers: dict[str, Number], points: dict[tuple[str, str], list[Point]]
) -> Iterator[str]:
    """Yield what is wrong with the readings as a whole."""
    if not numbers and not points:
        yield "it holds no reading"
    names = [name for name, _ in points]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield f"the curve {name} has more than one unit"
    for name in sorted(set(names) & set(numbers)):
        yield f"{name} is a number and a curve"
    for (name, _), curve in points.items():
        if len(curve) < 2:
            yield f"the curve {name} has one point only"


def curve_of(points: list[Point], unit: str) -> Curve:
    """Return the curve through points."""
    return Curve(np.array([at for at, _ in points]), np.array([v for _, v in points]), unit)


def refused(file_name: str, faults: list[str]) -> TextFileError:
    """Return the refusal of a file."""
    listed = "\n".join(faults)
    return TextFileError(
        f"{file_name} is no record that can be read:\n{listed}\n", REMEDY, tuple(faults)
    )
