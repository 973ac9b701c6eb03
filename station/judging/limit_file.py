"""Read a limit file, and refuse it whole with every fault at file:line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from station.analysis.sweep import FADE_OUT_OCTAVES
from station.judging.names import curve_names, number_names
from station.judging.tables import LimitFile, ReadingsTable
from station.tomlfiles.lines import Place
from station.tomlfiles.loading import model_from_toml, text_of_file


def limit_file(path: Path) -> tuple[LimitFile, str]:
    """Return a limit file's checked contents and its text.

    Raises
    ------
    TextFileError
        With every fault of the file, each with file and line.
    """
    text = text_of_file(path)
    return limit_file_from_text(text, str(path)), text


def limit_file_from_text(text: str, name: str) -> LimitFile:
    """Return the checked contents of a limit file's text; `name` is how faults call it."""
    return model_from_toml(text, name, LimitFile, faults_between_tables)


def faults_between_tables(contents: Mapping[str, Any]) -> Iterator[tuple[Place, str]]:
    """Yield what no table can see alone, as place and sentence, also where a table is faulty."""
    bands, numbers = entries(contents, "bands"), entries(contents, "numbers")
    judged = {entry.get("reading") for entry in (*bands, *numbers)}
    if not judged:
        yield (), "the file holds no limit at all, so nothing could ever fail"
    yield from readings_beyond_the_sweep(contents)
    if "reference" not in contents:
        for index, band in enumerate(bands):
            if band.get("mode") in ("relative", "floating"):
                yield ("bands", index, "mode"), "needs the reference table"
        for index, limit in enumerate(numbers):
            if str(limit.get("reading")).startswith("level."):
                yield ("numbers", index, "reading"), "needs the reference table"
    for index, band in enumerate(bands):
        if band.get("mode") in ("relative", "floating") and band.get("reading") != "response":
            yield ("bands", index, "mode"), "only the response has a reference to be relative to"
    for index, advice in enumerate(entries(contents, "advice")):
        for number, finding in enumerate(entries(advice, "when")):
            if finding.get("reading") not in judged:
                place = ("advice", index, "when", number)
                yield place, f"{finding.get('reading')!r} has no limit in this file"
    try:
        readings = ReadingsTable.model_validate(contents.get("readings"))
    except ValidationError:
        return  # its own faults are reported already
    for table, kind, names in (
        ("bands", "curve", curve_names(readings)),
        ("numbers", "number", number_names(readings)),
    ):
        for index, entry in enumerate(entries(contents, table)):
            if entry.get("reading") not in names:
                what = f"there is no {kind} {entry.get('reading')!r}; computed are "
                yield (table, index, "reading"), what + ", ".join(names)


def readings_beyond_the_sweep(contents: Mapping[str, Any]) -> Iterator[tuple[Place, str]]:
    """Yield each reading that asks for frequencies the sweep does not hold at full level."""
    stimulus, readings = contents.get("stimulus"), contents.get("readings")
    if not isinstance(stimulus, dict) or not isinstance(readings, dict):
        return
    first_hz, last_hz = stimulus.get("faded_in_hz"), stimulus.get("stop_hz")
    if not isinstance(first_hz, int | float) or not isinstance(last_hz, int | float):
        return
    last_hz *= 2.0**-FADE_OUT_OCTAVES
    for name, table in readings.items():
        if not isinstance(table, dict):
            continue
        from_hz, to_hz = table.get("from_hz"), table.get("to_hz")
        if isinstance(from_hz, int | float) and from_hz < first_hz:
            yield ("readings", name, "from_hz"), f"lies below the sweep's {first_hz:g} Hz"
        if isinstance(to_hz, int | float) and to_hz > last_hz:
            yield ("readings", name, "to_hz"), f"lies above the sweep's {last_hz:g} Hz"


def entries(contents: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    """Return the tables of an array of tables that may be missing or no array of tables."""
    found = contents.get(key, [])
    return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []
