"""Calibrate one input: record, compute what full scale means, judge the drift, store, tell.

A calibration whose input has drifted further than the station file allows is stored as refused
and never used; it stops the testing of units (see `calibrationstate`).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.calibration import (
    Calibrator,
    current_full_scale_a,
    drift_db,
    microphone_calibration,
)
from station.analysis.recording import Role
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.statistics.uncertainty import Estimate
from station.analysis.trust.integrity import CLIPPED_FROM
from station.cycle.bench.bench import Bench, channels_of
from station.cycle.bench.guard import watched_over
from station.cycle.calibration.calibrationstate import InputState, input_states
from station.cycle.calibration.calibrationwords import Outcome, outcome_of
from station.errors import NoSignalError, RefusedInputError
from station.hardware.files.calibrationtables import ResistorTable
from station.hardware.protocols.audio import Meter
from station.records.kept.calibration import Calibration, Means
from station.records.log.log import RunLog
from station.records.recordings.calibrationfile import CalibrationFacts
from station.records.recordings.recording_file import quantised

SETTLING_S = 0.25  # converters and calibrators need a moment; not analysed
RESISTOR = "resistor"  # what it is called among the fixture's models
FADED_IN_RATIO = 1.2  # of the lowest frequency, about a quarter of an octave


@dataclass(frozen=True, slots=True)
class Asked:
    """Who calibrates, how warm it is, and how the calibration shall be called."""

    calibration_id: str
    by: str
    temperature_c: float


def calibrate_microphone(
    bench: Bench,
    log: RunLog,
    role: Role,
    level_db_spl: float,
    asked: Asked,
    *,
    stop: threading.Event,
) -> Calibration:
    """Calibrate a microphone by the calibrator that is on it, and return what was stored.

    Raises
    ------
    RefusedInputError
        If the station file does not say how this input is calibrated.
    NoSignalError
        If there is no clean and steady tone; nothing is stored then.
    StationFaultError
        If the device fails or is stopped, or the log cannot be written.
    """
    state, drift_limit_db = state_of(bench, log, role)
    calibration = bench.station.calibration
    if calibration is None or calibration.calibrator is None:
        raise no_table("calibrator")
    table = calibration.calibrator
    silence = np.zeros(round(table.duration_s * bench.station.audio.rate_hz))
    samples = captured(bench, silence, stop)
    found = microphone_calibration(
        settled(bench, samples)[row_of(bench, role)],
        bench.station.audio.rate_hz,
        Calibrator(
            Estimate(level_db_spl, table.level_uncertainty_db),
            table.frequency_hz,
            table.frequency_tolerance_ratio,
            table.largest_distortion_ratio,
            table.largest_fluctuation_db,
        ),
    ).full_scale_pa
    outcome = outcome_of(state, found.value, drift(state, found), drift_limit_db, level_db_spl)
    return stored(
        bench, log, state, Means.CALIBRATOR, level_db_spl, found, drift_limit_db, outcome, asked,
        samples,
    )  # fmt: skip


def calibrate_current(
    bench: Bench, log: RunLog, resistor_ohm: float, asked: Asked, *, stop: threading.Event
) -> Calibration:
    """Calibrate the current sense by the resistor in place of a unit, and return what was stored.

    Raises
    ------
    RefusedInputError
        If the station file does not say how the current is calibrated.
    NoSignalError
        If the current is not that of a resistor; nothing is stored then.
    StationFaultError
        If the device fails or is stopped, or the log cannot be written.
    """
    state, drift_limit_db = state_of(bench, log, "current")
    calibration = bench.station.calibration
    if calibration is None or calibration.resistor is None:
        raise no_table("resistor")
    table = calibration.resistor
    sweep_v = sweep_voltage(sweep_for(table, bench.station.audio.rate_hz))
    with connected(bench, RESISTOR, stop), watched_over(bench, stop):
        samples = captured(bench, sweep_v / bench.station.audio.output_full_scale_v, stop)
    rows = settled(bench, samples)
    voltage, current = rows[row_of(bench, "voltage")], rows[row_of(bench, "current")]
    for name, row in (("voltage", voltage), ("current", current)):
        if float(np.max(np.abs(row))) >= CLIPPED_FROM:
            raise NoSignalError(f"The {name} input clips.", "Lower its gain, then calibrate again.")
    voltage_full_scale_v = channels_of(bench.station)[row_of(bench, "voltage")].full_scale
    found = current_full_scale_a(
        voltage * voltage_full_scale_v,
        current,
        Estimate(resistor_ohm, table.uncertainty_ratio * resistor_ohm),
        table.voltage_uncertainty_ratio,
    )
    outcome = outcome_of(state, found.value, drift(state, found), drift_limit_db, None)
    return stored(
        bench, log, state, Means.RESISTOR, resistor_ohm, found, drift_limit_db, outcome, asked,
        samples,
    )  # fmt: skip


@contextmanager
def connected(bench: Bench, what: str, stop: threading.Event) -> Iterator[None]:
    """Hold what a fixture on a port connects by its relays; elsewhere a person has connected it."""
    if bench.station.fixture is None:
        yield
        return
    bench.fixture.await_start(stop, unannounced)
    bench.fixture.secure(what, what)
    try:
        yield
    finally:
        bench.fixture.release()


def sweep_for(table: ResistorTable, rate_hz: float) -> Sweep:
    """Return the sweep that is played into the resistor."""
    return Sweep(
        start_hz=table.from_hz,
        faded_in_hz=FADED_IN_RATIO * table.from_hz,
        stop_hz=table.to_hz,
        duration_s=table.duration_s,
        level_v=table.level_v,
        lead_in_s=SETTLING_S,
        tail_s=SETTLING_S,
        rate_hz=rate_hz,
    )


def state_of(bench: Bench, log: RunLog, role: Role) -> tuple[InputState, float]:
    """Return how an input stands and how far it may drift; refuse one that has no table."""
    tables = {} if bench.station.calibration is None else bench.station.calibration.channels()
    if role not in tables:
        raise no_table(role)
    (state,) = (one for one in input_states(bench.station, log) if one.place.role == role)
    return state, tables[role].drift_limit_db


def no_table(name: str) -> RefusedInputError:
    """Return the refusal of a calibration that the station file does not describe."""
    return RefusedInputError(
        f"The station file has no table [calibration.{name}].",
        "Add it: 'station doctor' names an example of a station file.",
    )


def captured(bench: Bench, output: FloatArray, stop: threading.Event) -> FloatArray:
    """Return what all inputs delivered, on the 24-bit grid, whole and without gaps."""
    capture = bench.audio.play_and_record(output, on_meter=unwatched, stop=stop)
    if capture.flags or not np.isfinite(capture.samples).all():
        told = ", ".join(capture.flags) or "samples that are no numbers"
        raise NoSignalError(
            f"The recording has gaps: {told}.",
            "Close other programs, then calibrate again; if it stays, raise block_frames.",
        )
    return quantised(capture.samples)


def unannounced() -> None:
    """Tell nobody that the start button is waited for: who calibrates stands at the fixture."""


def unwatched(_meter: Meter) -> None:
    """Show nothing while it is recorded."""


def settled(bench: Bench, samples: FloatArray) -> FloatArray:
    """Return the samples without their first moment."""
    return samples[:, round(SETTLING_S * bench.station.audio.rate_hz) :]


def row_of(bench: Bench, role: Role) -> int:
    """Return the row of an input."""
    return [one.role for one in bench.station.inputs].index(role)


def drift(state: InputState, found: Estimate) -> float | None:
    """Return how far an input has moved since its last accepted calibration, in dB."""
    if (last := state.in_use) is None:
        return None
    return drift_db(found, Estimate(last.full_scale, last.standard_uncertainty)).value


def stored(
    bench: Bench,
    log: RunLog,
    state: InputState,
    means: Means,
    nominal: float,
    found: Estimate,
    drift_limit_db: float,
    outcome: Outcome,
    asked: Asked,
    samples: FloatArray,
) -> Calibration:
    """Store a calibration with its recording, and return it."""
    now_utc = bench.clock.utc_now()
    reference = log.store_calibration_recording(
        samples,
        bench.station.audio.rate_hz,
        CalibrationFacts(
            asked.calibration_id,
            now_utc,
            bench.station.name,
            means,
            nominal,
            channels_of(bench.station),
        ),
    )
    calibration = Calibration(
        calibration_id=asked.calibration_id,
        calibrated_utc=now_utc,
        calibrated_by=asked.by,
        place=state.place,
        means=means,
        nominal=nominal,
        full_scale_before=state.full_scale,
        full_scale=found.value,
        standard_uncertainty=found.standard_uncertainty,
        drift_db=outcome.drift_db,
        drift_limit_db=drift_limit_db,
        temperature_c=asked.temperature_c,
        accepted=outcome.accepted,
        happened=outcome.happened,
        remedy=outcome.remedy,
        simulated=bench.simulated,
        station_text=bench.station_text,
        versions=bench.versions,
        recording=reference,
    )
    log.store_calibration(calibration)
    return calibration
