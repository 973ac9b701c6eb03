"""What no table of a limit file can see alone, found in the raw contents.

The raw contents are searched, not the checked model, so that these faults are reported together
with those of the tables themselves, all at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from station.analysis.signals.quietrecording import SHORTEST_S
from station.analysis.signals.sweep import FADE_OUT_OCTAVES
from station.judging.files.decisionchecks import faults_of_decision
from station.judging.tables.names import curve_names, number_names
from station.judging.tables.rawtables import Contents, Faults, entries
from station.judging.tables.readingtables import ReadingsTable
from station.tomlfiles.lines import Place


def faults_between_tables(contents: Contents) -> Faults:
    """Yield place and sentence of each fault that shows only between tables."""
    if not judged_names(contents):
        yield (), "the file holds no limit at all, so nothing could ever fail"
    yield from faults_of_relative_limits(contents)
    yield from faults_of_advice(contents)
    yield from faults_of_translations(contents)
    yield from faults_of_names(contents)
    yield from faults_of_reach(contents)
    yield from faults_of_idle_noise(contents)
    yield from faults_of_safety(contents)
    yield from faults_of_netlist(contents)
    yield from faults_of_decision(contents)


def judged_names(contents: Contents) -> set[Any]:
    """Return the names of all readings that have a limit."""
    limits = (*entries(contents, "bands"), *entries(contents, "numbers"))
    return {limit.get("reading") for limit in limits}


def faults_of_relative_limits(contents: Contents) -> Faults:
    """Yield limits that need a reference which is not there."""
    without_reference = "reference" not in contents
    for index, band in enumerate(entries(contents, "bands")):
        if band.get("mode") not in ("relative", "floating"):
            continue
        if band.get("reading") != "response":
            yield ("bands", index, "mode"), "only the response has a reference to be relative to"
        elif without_reference:
            yield ("bands", index, "mode"), "needs the reference table"
    for index, limit in enumerate(entries(contents, "numbers")):
        if without_reference and str(limit.get("reading")).startswith("level."):
            yield ("numbers", index, "reading"), "needs the reference table"


def faults_of_advice(contents: Contents) -> Faults:
    """Yield advice on readings that have no limit and so can never be found failing."""
    judged = judged_names(contents)
    for index, advice in enumerate(entries(contents, "advice")):
        for part in ("when", "unless"):
            for number, finding in enumerate(entries(advice, part)):
                if finding.get("reading") not in judged:
                    place = ("advice", index, part, number)
                    yield place, f"{finding.get('reading')!r} has no limit in this file"


def faults_of_translations(contents: Contents) -> Faults:
    """Yield translations of what no advice says: the advice was changed and they were not."""
    said = {advice.get("say") for advice in entries(contents, "advice")}
    translations = contents.get("translations")
    if not isinstance(translations, Mapping):
        return
    for code, phrases in translations.items():
        for words in phrases if isinstance(phrases, Mapping) else ():
            if words not in said:
                yield ("translations", code, words), "no advice says this"


def faults_of_names(contents: Contents) -> Faults:
    """Yield limits on readings that are not computed."""
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


def faults_of_reach(contents: Contents) -> Faults:
    """Yield readings that ask for frequencies the sweep does not hold at full level."""
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


def faults_of_idle_noise(contents: Contents) -> Faults:
    """Yield idle noise that is asked for in a silence too short to read it from."""
    stimulus, readings = contents.get("stimulus"), contents.get("readings")
    if not isinstance(stimulus, dict) or not isinstance(readings, dict):
        return
    lead_in_s = stimulus.get("lead_in_s")
    if "idle_noise" in readings and isinstance(lead_in_s, int | float) and lead_in_s < SHORTEST_S:
        yield ("stimulus", "lead_in_s"), f"idle noise needs {SHORTEST_S:g} s or more"


def faults_of_safety(contents: Contents) -> Faults:
    """Yield a sweep that gives the model more than it bears."""
    stimulus, safety = contents.get("stimulus"), contents.get("safety")
    if not isinstance(stimulus, dict) or not isinstance(safety, dict):
        return
    level_v, largest_peak_v = stimulus.get("level_v"), safety.get("largest_peak_v")
    if not isinstance(level_v, int | float) or not isinstance(largest_peak_v, int | float):
        return
    places = [(("stimulus", "level_v"), level_v), *step_levels(contents)]
    for place, each_v in places:
        peak_v = math.sqrt(2.0) * each_v
        if peak_v > largest_peak_v:
            yield place, f"reaches {peak_v:.2f} V peak, above safety.largest_peak_v"


def step_levels(contents: Contents) -> Iterator[tuple[Place, float]]:
    """Yield the levels of the sweeps behind the main one, each with its place."""
    readings = contents.get("readings")
    compression = readings.get("compression") if isinstance(readings, dict) else None
    levels_v = compression.get("levels_v") if isinstance(compression, dict) else None
    for index, level_v in enumerate(levels_v if isinstance(levels_v, list) else ()):
        if isinstance(level_v, int | float):
            yield ("readings", "compression", "levels_v", index), level_v


def faults_of_netlist(contents: Contents) -> Faults:
    """Yield a netlist that nothing is measured for."""
    netlist, readings = contents.get("netlist"), contents.get("readings")
    if not isinstance(netlist, dict) or not isinstance(readings, dict):
        return
    if "impedance" not in readings:
        yield ("netlist",), "needs the impedance among the readings"
    names = {section.get("name") for section in entries(readings, "sections")}
    for index, output in enumerate(entries(netlist, "outputs")):
        if output.get("section") not in names:
            place = ("netlist", "outputs", index, "section")
            yield place, f"{output.get('section')!r} is none of the sections"
