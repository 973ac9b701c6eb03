"""One test from scan to stored verdict: every attempt is a run, and stored before it is told."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from station.analysis.measure import measure
from station.analysis.plan import Plan
from station.analysis.readings import Readings
from station.analysis.sweep import Sweep, sweep_voltage
from station.cycle.bench import Bench, check_bench_fits, recording_of
from station.cycle.report import (
    LastUnit,
    Progress,
    ProgressCallback,
    ShiftCount,
    Stage,
    UnitReport,
)
from station.errors import AudioLostError, BusyError, StationError, StoppedError
from station.hardware.audio import Meter
from station.judging.judge import judge
from station.judging.planning import plan_of, sweep_of
from station.judging.shelf import LimitShelf, ShelvedLimits
from station.judging.verdict import Cause, Judgement, Verdict
from station.records.log import RunLog
from station.records.recording_file import RecordingFacts
from station.records.run import RecordingRef, Run, Setup


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be done with the unit in the fixture."""

    serial: str
    shelved: ShelvedLimits
    sweep: Sweep
    plan: Plan


class UnitCycle:
    """Tests units one after another on one bench; two tests can never overlap."""

    def __init__(
        self,
        bench: Bench,
        shelf: LimitShelf,
        log: RunLog,
        *,
        new_run_id: Callable[[], str],
        shift_start_utc: datetime,
    ) -> None:
        self._bench = bench
        self._shelf = shelf
        self._log = log
        self._new_run_id = new_run_id
        self._shift_start_utc = shift_start_utc
        self._one_at_a_time = threading.Lock()

    def model_of(self, serial: str) -> tuple[str, str]:
        """Return model and revision of a serial number; raise UnknownSerialError."""
        model = self._shelf.for_serial(serial).limits.model
        return model.name, model.revision

    def shift_so_far(self) -> ShiftCount:
        """Return how the units of this shift stand, from the log."""
        count = self._log.shift_count(self._shift_start_utc)
        last = tuple(
            LastUnit(unit.serial, unit.model, Verdict(unit.verdict), unit.cause)
            for unit in count.last
        )
        return ShiftCount(count.passed, count.failed, count.void, last)

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        """Test the unit in the fixture and return its stored runs, the deciding one last.

        Raises
        ------
        UnknownSerialError
            If no limit file claims the serial number.
        BusyError
            If a test is running already.
        StoppedError
            If `stop` was set; the run is stored as void first.
        StationError
            If the station cannot test; nothing was measured then, and nothing is stored.
        """
        shelved = self._shelf.for_serial(serial)
        order = Order(serial, shelved, sweep_of(shelved.limits), plan_of(shelved.limits))
        check_bench_fits(self._bench.station, order.sweep, order.plan)
        with self._alone():
            on_progress(Progress(Stage.SECURING, 1))
            self._bench.fixture.secure(serial, shelved.limits.model.name)
            try:
                return UnitReport(tuple(self._attempts(order, on_progress, stop)))
            finally:
                self._bench.fixture.release()

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Hold the bench, or refuse at once if somebody else holds it."""
        if not self._one_at_a_time.acquire(blocking=False):
            raise BusyError("A test is running already.", "Wait until it has ended.")
        try:
            yield
        finally:
            self._one_at_a_time.release()

    def _attempts(
        self, order: Order, on_progress: ProgressCallback, stop: threading.Event
    ) -> Iterator[Run]:
        """Yield stored runs until one is not void or the limit file's repeats are used up."""
        allowed = 1 + order.shelved.limits.repeats.void
        for attempt in range(1, allowed + 1):
            run = self._attempt(order, attempt, on_progress, stop)
            yield run
            if run.judgement.verdict is not Verdict.VOID or run.recording is None:
                return
            if attempt < allowed:
                reason = run.judgement.causes[0].happened
                on_progress(Progress(Stage.REPEATING, attempt + 1, reason=reason))

    def _attempt(
        self, order: Order, attempt: int, on_progress: ProgressCallback, stop: threading.Event
    ) -> Run:
        """Play, record, measure, judge and store once."""
        started = self._bench.clock.utc_now(), self._bench.clock.monotonic_s()
        run_id = self._new_run_id()

        def on_meter(meter: Meter) -> None:
            peak = max(meter.peaks, default=0.0)
            level_dbfs = 20.0 * math.log10(peak) if peak > 0.0 else -math.inf
            on_progress(Progress(Stage.SWEEPING, attempt, meter.played_ratio, level_dbfs))

        output = sweep_voltage(order.sweep) / self._bench.station.audio.output_full_scale_v
        try:
            capture = self._bench.audio.play_and_record(output, on_meter=on_meter, stop=stop)
        except (AudioLostError, StoppedError) as error:
            run = self._run(order, run_id, attempt, started, Readings(), interrupted(error), None)
            self._log.store(run)
            if isinstance(error, StoppedError):
                raise
            return run
        on_progress(Progress(Stage.COMPUTING, attempt, 1.0))
        recording = recording_of(capture, self._bench.station, order.sweep)
        measured = measure(recording, order.plan)
        judgement = judge(measured, order.shelved.limits)
        on_progress(Progress(Stage.STORING, attempt, 1.0))
        model = order.shelved.limits.model
        facts = RecordingFacts(
            serial=order.serial,
            model=model.name,
            revision=model.revision,
            run_id=run_id,
            utc=started[0],
            station=self._bench.station.name,
        )
        reference = self._log.store_recording(recording, facts)
        run = self._run(order, run_id, attempt, started, measured.readings, judgement, reference)
        self._log.store(run)
        return run

    def _run(
        self,
        order: Order,
        run_id: str,
        attempt: int,
        started: tuple[datetime, float],
        readings: Readings,
        judgement: Judgement,
        recording: RecordingRef | None,
    ) -> Run:
        """Return a run with everything that decided it."""
        bench, model = self._bench, order.shelved.limits.model
        setup = Setup(
            order.shelved.name,
            order.shelved.text,
            bench.station.name,
            bench.station_text,
            bench.versions,
        )
        return Run(
            run_id=run_id,
            serial=order.serial,
            model=model.name,
            revision=model.revision,
            attempt=attempt,
            simulated=bench.simulated,
            started_utc=started[0],
            monotonic_s=started[1],
            readings=readings,
            judgement=judgement,
            setup=setup,
            recording=recording,
        )


def interrupted(error: StationError) -> Judgement:
    """Return the void of a run that ended before there was a recording."""
    cause = Cause("recording", "untrusted", math.nan, "", None, 0.0, error.happened, error.remedy)
    return Judgement(Verdict.VOID, (cause,), error.remedy)
