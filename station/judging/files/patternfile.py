"""The pattern file beside a limit file: the population that a model's curve is compared with.

JSON with `format` 1, the name of the curve, and what `population.plain_of` gives. A limit file
names it with its SHA-256: a population that was learned again decides nothing until somebody has
put the new hash into the limit file, in which it then is a change like any other.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
from pydantic import ValidationError

from station.analysis.acoustic.rub import BANDS_PER_OCTAVE
from station.analysis.arrays import FloatArray
from station.analysis.signals.bands import band_centres
from station.analysis.statistics.population import PatternModel, model_of, plain_of
from station.judging.tables.readingtables import PatternTable, ReadingsTable
from station.tomlfiles.lines import Place

FORMAT = 1
ReadPattern = Callable[[PatternTable], str]  # raises ValueError if it is not there as it was
PLACE: Place = ("readings", "pattern")


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """What a pattern file holds."""

    curve: str
    model: PatternModel


def pattern_text(pattern: Pattern) -> str:
    """Return the text of a pattern file; the same pattern gives the same text."""
    contents = {"format": FORMAT, "curve": pattern.curve, **plain_of(pattern.model)}
    return json.dumps(contents, allow_nan=False, separators=(",", ":")) + "\n"


def write_pattern(path: Path, pattern: Pattern) -> str:
    """Write a pattern file and return its SHA-256, which a limit file names it by."""
    contents = pattern_text(pattern).encode()
    path.write_bytes(contents)
    return hashlib.sha256(contents).hexdigest()


def pattern_of(contents: str) -> Pattern:
    """Return what a pattern file's text holds; raise ValueError if it is none."""
    try:
        plain = json.loads(contents, parse_constant=refuse_constant)
    except json.JSONDecodeError as error:
        raise ValueError(f"is no JSON: {error}") from error
    if not isinstance(plain, dict) or plain.pop("format", None) != FORMAT:
        raise ValueError(f"is no pattern file of format {FORMAT}")
    curve = plain.pop("curve", None)
    if not isinstance(curve, str):
        raise ValueError("does not name its curve")
    try:
        return Pattern(curve, model_of(plain))
    except (TypeError, ValueError) as error:
        raise ValueError(f"is no pattern: {error}") from error


def refuse_constant(word: str) -> NoReturn:
    """Refuse NaN and the infinities, which JSON does not have."""
    raise ValueError(f"holds {word}")


def faults_of_pattern(
    contents: Mapping[str, Any], read: ReadPattern | None
) -> Iterator[tuple[Place, str]]:
    """Yield place and sentence of each reason why a limit file's pattern file cannot be used."""
    try:
        readings = ReadingsTable.model_validate(contents.get("readings"))
    except ValidationError:
        return  # its own faults are reported already
    if (table := readings.pattern) is None:
        return
    if read is None:
        yield (*PLACE, "file"), "a limit file that stands in no folder has no file beside it"
        return
    try:
        pattern = pattern_of(read(table))
    except ValueError as error:
        yield (*PLACE, "file"), f"{table.file!r} {error}"
        return
    if pattern.curve != table.curve:
        yield (*PLACE, "curve"), f"{table.file!r} was learned from {pattern.curve!r}"
        return
    read_at_hz = frequencies_of(readings, table.curve)
    if read_at_hz is None:
        yield (*PLACE, "curve"), f"there is no curve {table.curve!r} to compare"
    elif not np.array_equal(read_at_hz, pattern.model.frequency_hz):
        yield (*PLACE, "file"), f"{table.file!r} was learned on other frequencies"


def beside(folder: Path) -> ReadPattern:
    """Return what reads the pattern files of a folder."""

    def read(table: PatternTable) -> str:
        try:
            contents = (folder / table.file).read_bytes().decode("utf-8")
        except OSError as error:
            raise ValueError(f"cannot be read: {error.strerror}") from error
        except UnicodeDecodeError as error:
            raise ValueError(f"is no UTF-8 text (byte {error.start})") from error
        return as_meant(contents, table)

    return read


def as_kept(contents: str) -> ReadPattern:
    """Return what finds a pattern file in a text that was kept of it."""
    return lambda table: as_meant(contents, table)


def as_meant(contents: str, table: PatternTable) -> str:
    """Return a pattern file's text; raise ValueError unless it is the one a limit file names."""
    found = hashlib.sha256(contents.encode()).hexdigest()
    if found != table.sha256:
        raise ValueError(f"is not the file that was meant: its SHA-256 is {found}")
    return contents


def frequencies_of(readings: ReadingsTable, curve: str) -> FloatArray | None:
    """Return the frequencies that a curve is read at, or None if it is not read."""
    if curve == "response":
        table = readings.response
        return band_centres(table.from_hz, table.to_hz, table.bands_per_octave)
    if curve in ("impedance", "impedance_phase") and (electric := readings.impedance) is not None:
        return band_centres(electric.from_hz, electric.to_hz, electric.bands_per_octave)
    if curve in ("rub", "rub_crest") and (rub := readings.rub) is not None:
        return band_centres(rub.from_hz, rub.to_hz, BANDS_PER_OCTAVE)
    if (thd := readings.distortion) is not None:
        names = {"thd", *(f"h{order}" for order in thd.orders)}
        if curve in names:
            return band_centres(thd.from_hz, thd.to_hz, thd.bands_per_octave)
    return None
