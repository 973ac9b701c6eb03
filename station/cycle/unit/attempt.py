"""One attempt: play, record, measure, judge, and store before anybody is told."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from datetime import datetime

from station.analysis.readings import Readings
from station.cycle.bench.bench import Bench
from station.cycle.ready.stationcheck import said_at_station, set_apart_at_station
from station.cycle.trials.trial import Order, Trial, judged, played
from station.cycle.unit.charging import await_bias
from station.cycle.unit.report import Progress, ProgressCallback, Stage
from station.errors import AudioLostError, StationError, StoppedError, UnsafeError, UnsettledError
from station.hardware.protocols.audio import Meter
from station.judging.verdicts.verdict import Cause, Judgement, Verdict
from station.records.kept.calibration import used
from station.records.kept.run import Operator, RecordingRef, Run, SetApart, Setup
from station.records.log.log import RunLog
from station.records.recordings.sidecar import RecordingFacts


@dataclass(frozen=True, slots=True)
class Began:
    """Which attempt this is, when it began by both clocks, who had signed in, and what for.

    The limits of a trial run need not be released.
    """

    run_id: str
    attempt: int
    utc: datetime
    monotonic_s: float
    trial_run: bool = False
    operator: Operator | None = None
    set_apart: SetApart | None = None


def stored_attempt(
    bench: Bench,
    log: RunLog,
    order: Order,
    began: Began,
    *,
    on_progress: ProgressCallback,
    stop: threading.Event,
    earlier: list[Trial],
) -> Run:
    """Carry out one attempt and return its run, which is stored when this returns.

    `earlier` holds the trials of this scan so far; the new one is added to it.

    Raises
    ------
    StoppedError
        If `stop` was set in mid-run; the run is stored as void first.
    """

    def on_meter(meter: Meter) -> None:
        peak = max(meter.peaks, default=0.0)
        level_dbfs = 20.0 * math.log10(peak) if peak > 0.0 else -math.inf
        on_progress(Progress(Stage.SWEEPING, began.attempt, meter.played_ratio, level_dbfs))

    try:
        if not earlier:
            await_bias(bench, order.shelved.limits, on_progress=on_progress, stop=stop)
        recording = played(bench, order, on_meter=on_meter, stop=stop)
    except (AudioLostError, StoppedError, UnsafeError, UnsettledError) as error:
        run = run_of(bench, order, began, Readings(), interrupted(error), None)
        log.store(run)
        if isinstance(error, StoppedError):
            raise
        return run
    on_progress(Progress(Stage.COMPUTING, began.attempt, 1.0))
    trial = judged(recording, order, earlier)
    earlier.append(trial)
    on_progress(Progress(Stage.STORING, began.attempt, 1.0))
    reference = log.store_recording(recording, facts_of(bench, order, began))
    run = run_of(bench, order, began, trial.measured.readings, trial.judgement, reference)
    log.store(run)
    return run


def facts_of(bench: Bench, order: Order, began: Began) -> RecordingFacts:
    """Return what a recording says of itself besides its samples."""
    model = order.shelved.limits.model
    return RecordingFacts(
        serial=order.serial,
        model=model.name,
        revision=model.revision,
        run_id=began.run_id,
        started_utc=began.utc,
        station=bench.station.name,
    )


def run_of(
    bench: Bench,
    order: Order,
    began: Began,
    readings: Readings,
    judgement: Judgement,
    recording: RecordingRef | None,
) -> Run:
    """Return a run with everything that decided it."""
    model = order.shelved.limits.model
    return Run(
        run_id=began.run_id,
        serial=order.serial,
        model=model.name,
        revision=model.revision,
        attempt=began.attempt,
        simulated=bench.simulated,
        started_utc=began.utc,
        monotonic_s=began.monotonic_s,
        readings=readings,
        judgement=said_at_station(bench.station.check, order.serial, judgement),
        setup=Setup(
            order.shelved.name,
            order.shelved.text,
            bench.station.name,
            bench.station_text,
            bench.versions,
            {role: None if one is None else used(one) for role, one in bench.calibrations.items()},
            order.shelved.pattern_text,
        ),
        recording=recording,
        temperature_c=bench.thermometer.temperature_c(),
        trial=began.trial_run,
        operator=began.operator,
        set_apart=set_apart_at_station(bench.station.check, order.serial, began.set_apart),
    )


def interrupted(error: StationError) -> Judgement:
    """Return the void of a run that ended before there was a recording."""
    cause = Cause("recording", "untrusted", math.nan, "", None, 0.0, error.happened, error.remedy)
    return Judgement(Verdict.VOID, (cause,), error.remedy)
