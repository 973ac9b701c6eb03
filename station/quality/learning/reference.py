"""The reference unit: the good one whose response lies closest to what all have in the middle."""

from __future__ import annotations

import numpy as np

from station.analysis.acoustic.response import reference_of
from station.analysis.plan import Reference
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import gated_transfer
from station.errors import RefusedInputError
from station.judging.tables.tables import LimitFile
from station.quality.drafts.text import number_toml, text_toml
from station.quality.learning.values import usual_column
from station.records.columns.columns import Columns

BAND_BEYOND = 2.0 ** (1.0 / 6.0)  # kept beyond the response on each side, for its outer bands
FADE_ROOM, STOP_ROOM = 1.04, 1.1  # what the ends of the sweep need to be clear of its fades
LINE_WIDTH = 90


def typical_unit(units: Columns) -> int:
    """Return the row whose response is closest to the median response."""
    column = usual_column(units, "response")
    if column is None:
        raise RefusedInputError(
            "The chosen units have no response.", "Choose units that were tested by a response."
        )
    there = np.flatnonzero(column.there & np.isfinite(column.values).all(axis=1))
    if there.size == 0:
        raise RefusedInputError("No chosen unit has a whole response.", "Choose units that passed.")
    values = column.values[there].astype(np.float64)
    distance = np.mean((values - np.median(values, axis=0)) ** 2, axis=1)
    return int(there[int(np.argmin(distance))])


def reference_from(recording: Recording, limits: LimitFile) -> Reference:
    """Return the reference of one unit over the range of the response and a band beyond."""
    spectra = spectra_of(recording)
    table, stimulus = limits.readings.response, limits.stimulus
    response = gated_transfer(spectra, "microphone", table.gate_s)
    from_hz = max(table.from_hz / BAND_BEYOND, stimulus.faded_in_hz * FADE_ROOM)
    to_hz = min(table.to_hz * BAND_BEYOND, stimulus.stop_hz / STOP_ROOM)
    return reference_of(response, spectra.sweep, recording.distance_m, from_hz, to_hz)


def reference_values(unit: str, reference: Reference) -> dict[str, str]:
    """Return what the reference table holds, as TOML."""
    level_db = 20.0 * np.log10(np.abs(reference.response))
    phase_deg = np.rad2deg(np.angle(reference.response))
    return {
        "unit": text_toml(unit),
        "hz": array_toml([float(f"{hz:.6g}") for hz in reference.frequency_hz]),
        "db": array_toml([round(float(value), 3) for value in level_db]),
        "deg": array_toml([round(float(value), 1) for value in phase_deg]),
    }


def array_toml(values: list[float]) -> str:
    """Return numbers as a TOML array that breaks before it is too wide to read."""
    lines, line = [], ""
    for value in values:
        word = f"{number_toml(value)}, "
        if len(line) + len(word) > LINE_WIDTH:
            lines.append(line.rstrip())
            line = ""
        line += word
    return "[\n    " + "\n    ".join([*lines, line.rstrip()]) + "\n]"
