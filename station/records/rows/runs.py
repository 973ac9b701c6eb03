"""A run as rows of the log, and back."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.readings import Curve, Number, Readings
from station.judging.verdicts.verdict import Cause, Judgement, Margin, Verdict
from station.records.kept.run import Operator, RecordingRef, Run, SetApart, Setup
from station.records.rows.decisions import decision_of, decision_text
from station.records.rows.usedcalibrations import (
    calibrations_of,
    calibrations_sha256,
    calibrations_text,
)
from station.records.rows.values import (
    Row,
    float_of,
    json_float,
    json_text,
    sha256,
    stored_float,
    utc_text,
)


@dataclass(frozen=True, slots=True)
class RunRows:
    """A run's own row and its child rows, in order."""

    run: Row
    causes: tuple[Row, ...]
    curves: tuple[Row, ...]
    missing: tuple[Row, ...]


def rows_of(run: Run, seq: int, previous_hash: str) -> RunRows:
    """Return the rows of a run, complete but for its hash."""
    recording = run.recording
    row = {
        "seq": seq,
        "run_id": run.run_id,
        "serial": run.serial,
        "model": run.model,
        "revision": run.revision,
        "attempt": int(run.attempt),
        "simulated": int(run.simulated),
        "started_utc": utc_text(run.started_utc),
        "monotonic_s": stored_float(run.monotonic_s),
        "verdict": run.judgement.verdict.value,
        "next_step": run.judgement.next_step,
        "numbers": numbers_text(run.readings.numbers),
        "margins": margins_text(run.judgement.margins),
        "decision": decision_text(run.judgement.decision),
        "limit_name": run.setup.limit_name,
        "limit_sha256": sha256(run.setup.limit_text.encode()),
        "station_name": run.setup.station_name,
        "station_sha256": sha256(run.setup.station_text.encode()),
        "versions_sha256": sha256(versions_text(run.setup.versions).encode()),
        "calibrations_sha256": calibrations_sha256(run.setup),
        "pattern_sha256": pattern_sha256(run.setup),
        "temperature_c": stored_float(run.temperature_c),
        "recording_name": None if recording is None else recording.name,
        "recording_sha256": None if recording is None else recording.sha256,
        "trial": int(run.trial),
        "operator": None if run.operator is None else run.operator.name,
        "badge": None if run.operator is None else run.operator.badge,
        "set_apart": None if run.set_apart is None else run.set_apart.value,
        "previous_hash": previous_hash,
    }
    return RunRows(row, cause_rows(run, seq), curve_rows(run, seq), missing_rows(run, seq))


def cause_rows(run: Run, seq: int) -> tuple[Row, ...]:
    """Return one row per cause, in order."""
    return tuple(
        {
            "run": seq,
            "position": position,
            "reading": cause.reading,
            "side": cause.side,
            "margin": stored_float(cause.margin),
            "unit": cause.unit,
            "at_hz": stored_float(cause.at_hz),
            "severity": stored_float(cause.severity),
            "happened": cause.happened,
            "advice": cause.advice,
        }
        for position, cause in enumerate(run.judgement.causes)
    )


def curve_rows(run: Run, seq: int) -> tuple[Row, ...]:
    """Return one row per curve, in order."""
    return tuple(
        {
            "run": seq,
            "position": position,
            "name": name,
            "unit": curve.unit,
            "grid_sha256": sha256(grid_blob(curve)),
            "float32_values": curve.values.astype("<f4").tobytes(),
        }
        for position, (name, curve) in enumerate(run.readings.curves.items())
    )


def missing_rows(run: Run, seq: int) -> tuple[Row, ...]:
    """Return one row per reading that could not be computed, in order."""
    return tuple(
        {"run": seq, "position": position, "name": name, "happened": happened, "remedy": remedy}
        for position, (name, (happened, remedy)) in enumerate(run.readings.missing.items())
    )


def pattern_sha256(setup: Setup) -> str | None:
    """Return the SHA-256 of the population a run was judged by, None where there was none."""
    return None if setup.pattern_text is None else sha256(setup.pattern_text.encode())


def texts_of(setup: Setup) -> dict[str, str]:
    """Return the texts a run refers to, under their SHA-256."""
    texts = [setup.limit_text, setup.station_text, versions_text(setup.versions)]
    if setup.calibrations:
        texts.append(calibrations_text(setup))
    if setup.pattern_text is not None:
        texts.append(setup.pattern_text)
    return {sha256(text.encode()): text for text in texts}


def grids_of(readings: Readings) -> dict[str, bytes]:
    """Return the frequency grids a run's curves refer to, under their SHA-256."""
    blobs = (grid_blob(curve) for curve in readings.curves.values())
    return {sha256(blob): blob for blob in blobs}


def run_of(rows: RunRows, text: Callable[[str], str], grid_hz: Callable[[str], FloatArray]) -> Run:
    """Return the run that rows tell of; `text` and `grid_hz` find contents by their SHA-256.

    The tolerance bands as they were applied are not kept: they follow from the limit text.
    """
    row = rows.run
    numbers = json.loads(row["numbers"])
    margins = json.loads(row["margins"])
    readings = Readings(
        {name: number_of(stored) for name, stored in numbers.items()},
        {
            curve["name"]: Curve(
                grid_hz(curve["grid_sha256"]), curve_values(curve["float32_values"]), curve["unit"]
            )
            for curve in rows.curves
            if has_frequencies(curve, grid_hz)
        },
        {reading["name"]: (reading["happened"], reading["remedy"]) for reading in rows.missing},
    )
    judgement = Judgement(
        Verdict(row["verdict"]),
        tuple(cause_of(cause) for cause in rows.causes),
        row["next_step"],
        {
            name: Margin(float_of(value), unit, None if at_hz is None else float_of(at_hz))
            for name, (value, unit, at_hz) in margins.items()
        },
        decision=decision_of(row["decision"]),
    )
    return Run(
        run_id=row["run_id"],
        serial=row["serial"],
        model=row["model"],
        revision=row["revision"],
        attempt=row["attempt"],
        simulated=bool(row["simulated"]),
        started_utc=datetime.fromisoformat(row["started_utc"]),
        monotonic_s=row["monotonic_s"],
        readings=readings,
        judgement=judgement,
        setup=setup_of(row, text),
        recording=recording_of(row),
        temperature_c=row["temperature_c"],
        trial=bool(row["trial"]),
        operator=operator_of(row),
        set_apart=None if row["set_apart"] is None else SetApart(row["set_apart"]),
    )


def has_frequencies(curve: Row, grid_hz: Callable[[str], FloatArray]) -> bool:
    """Return whether the frequencies of a curve are known; where they are lost it says nothing."""
    return grid_hz(curve["grid_sha256"]).size == curve_values(curve["float32_values"]).size


def operator_of(row: Row) -> Operator | None:
    """Return who had signed in, None if nobody had to."""
    return None if row["operator"] is None else Operator(row["operator"], row["badge"])


def cause_of(row: Row) -> Cause:
    """Return the cause a row tells of."""
    return Cause(
        row["reading"],
        row["side"],
        float_of(row["margin"]),
        row["unit"],
        row["at_hz"],
        float_of(row["severity"]),
        row["happened"],
        row["advice"],
    )


def setup_of(row: Row, text: Callable[[str], str]) -> Setup:
    """Return what decided the run."""
    return Setup(
        row["limit_name"],
        text(row["limit_sha256"]),
        row["station_name"],
        text(row["station_sha256"]),
        json.loads(text(row["versions_sha256"]) or "{}"),
        {} if (key := row["calibrations_sha256"]) is None else calibrations_of(text(key) or "{}"),
        None if (key := row["pattern_sha256"]) is None else text(key) or None,
    )


def recording_of(row: Row) -> RecordingRef | None:
    """Return the recording of a run, None if it kept none."""
    if row["recording_name"] is None:
        return None
    return RecordingRef(row["recording_name"], row["recording_sha256"])


def numbers_text(numbers: Mapping[str, Number]) -> str:
    """Return numbers as a JSON object of [value, unit] or [value, unit, uncertainty].

    Null stands for NaN and "inf" for infinity; an uncertainty that is not stated is left out, as
    it is in all runs that were stored before numbers had one.
    """
    return json_text({name: stored_number(number) for name, number in numbers.items()})


def stored_number(number: Number) -> tuple[object, ...]:
    """Return a number as the log keeps it."""
    value = (json_float(number.value), number.unit)
    return value if math.isnan(number.uncertainty) else (*value, json_float(number.uncertainty))


def number_of(stored: Sequence[Any]) -> Number:
    """Return the number that was stored, whether with an uncertainty or without."""
    value, unit, *uncertainty = stored
    return Number(float_of(value), unit, *map(float_of, uncertainty))


def margins_text(margins: Mapping[str, Margin]) -> str:
    """Return margins as a JSON object of [value, unit, at_hz]; null also where at_hz is None."""
    return json_text(
        {name: (json_float(m.value), m.unit, json_float(m.at_hz)) for name, m in margins.items()}
    )


def versions_text(versions: Mapping[str, str]) -> str:
    """Return versions as JSON, sorted, so that equal ones are the same text."""
    return json_text(dict(sorted(versions.items())))


def grid_blob(curve: Curve) -> bytes:
    """Return a curve's frequencies as little-endian float64."""
    return curve.frequency_hz.astype("<f8").tobytes()


def grid_of(blob: bytes) -> FloatArray:
    """Return the frequencies in Hz of a blob."""
    return np.frombuffer(blob, "<f8").astype(np.float64)


def curve_values(blob: bytes) -> FloatArray:
    """Return the values of a curve; single precision is what the curve was made with."""
    return np.frombuffer(blob, "<f4").astype(np.float64)


def in_order(rows: Iterable[Any]) -> tuple[Row, ...]:
    """Return fetched rows as mappings."""
    return tuple(dict(row) for row in rows)
