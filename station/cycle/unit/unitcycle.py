"""Unit after unit on one bench: the lock, the attempts, and the counts of the shift."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from station.cycle.allowed.admission import Admission
from station.cycle.allowed.operatordesk import OperatorDesk
from station.cycle.bench.bench import Bench, check_bench_fits
from station.cycle.bench.hearing import ambient_of, ears_at_risk_db_spl
from station.cycle.calibration.calibrationstate import calibrated_bench
from station.cycle.ready.climate import check_temperature
from station.cycle.ready.stationcheck import check_is_due
from station.cycle.ready.stationwatch import StationWatch
from station.cycle.stored.suspicion import Suspicion
from station.cycle.trials.trial import Order, Trial, order_for, trials
from station.cycle.unit.attempt import Began, stored_attempt
from station.cycle.unit.holding import held, lamp_of
from station.cycle.unit.report import Progress, ProgressCallback, Stage, UnitReport
from station.diagnosis.named.suspect import Diagnosis
from station.errors import BusyError, StationError
from station.judging.files.shelf import LimitShelf
from station.records.kept.run import Operator, Run, SetApart
from station.records.log.log import RunLog
from station.records.summaries.shift import ShiftCount


class UnitCycle:
    """Tests units one after another on one bench; two tests can never overlap.

    `admission` says whether a unit's limit file may judge it; None where the limits were not
    taken from a folder that anybody can write to. `desk` says who is at work; None where nobody
    has to sign in.
    """

    def __init__(
        self,
        bench: Bench,
        shelf: LimitShelf,
        log: RunLog,
        *,
        new_run_id: Callable[[], str],
        shift_start_utc: datetime,
        admission: Admission | None = None,
        desk: OperatorDesk | None = None,
    ) -> None:
        self._bench = bench
        self._shelf = shelf
        self._log = log
        self._new_run_id = new_run_id
        self._shift_start_utc = shift_start_utc
        self._admission = admission
        self._desk = desk
        self._one_at_a_time = threading.Lock()
        self._suspicion = Suspicion()
        self._ambient: float | None = None  # dB SPL, as the latest run heard it
        self._watch = StationWatch(bench.clock, bench.station.disk, log)

    @property
    def desk(self) -> OperatorDesk | None:
        """Where operators sign in; None where nobody has to."""
        return self._desk

    def model_of(self, serial: str) -> tuple[str, str]:
        """Return model and revision of a serial number; raise UnknownSerialError."""
        model = self._shelf.for_serial(serial).limits.model
        return model.name, model.revision

    def shift_so_far(self) -> ShiftCount:
        """Return how the units of this shift stand, from the log."""
        return self._log.shift_count(self._shift_start_utc)

    def test_unit(
        self,
        serial: str,
        *,
        on_progress: ProgressCallback,
        stop: threading.Event,
        set_apart: SetApart | None = None,
    ) -> UnitReport:
        """Test the unit in the fixture and return its stored runs, the deciding one last.

        `set_apart` is what it is tested for, if not as production.

        Raises
        ------
        UnknownSerialError
            If no limit file claims the serial number.
        NotAllowedError
            If nobody has signed in who has to.
        UnreleasedError
            If the limit file may not judge this unit.
        BusyError
            If a test is running already.
        StoppedError
            If `stop` was set; the run is stored as void first.
        StationError
            If the station cannot test; nothing was measured then, and nothing is stored.
        """
        try:
            report = self._tested(serial, on_progress, stop, set_apart)
        except StationError as error:
            self._watch.note("unit_not_tested", serial=serial, why=error.happened)
            raise
        final = report.final
        self._watch.note(
            "unit_tested",
            serial=serial,
            run=final.run_id,
            verdict=final.judgement.verdict.value,
            attempts=len(report.runs),
        )
        return report

    def _tested(
        self,
        serial: str,
        on_progress: ProgressCallback,
        stop: threading.Event,
        set_apart: SetApart | None,
    ) -> UnitReport:
        """Return the stored runs of a unit after all that must hold before one is tested."""
        operator = None if self._desk is None else self._desk.at_work()
        order = order_for(serial, self._shelf.for_serial(serial))
        if self._admission is not None:
            self._admission.check(serial, order.shelved)
        notices = self._watch.before_unit()
        check_bench_fits(self._bench.station, order.sweep, order.plan, order.steps)
        check_is_due(self._bench, self._log, serial)
        bench = calibrated_bench(self._bench, self._log)
        with self._alone():
            model = order.shelved.limits.model.name
            ears_db_spl = ears_at_risk_db_spl(bench.station, order.shelved.limits, self._ambient)
            with held(bench.fixture, serial, model, on_progress, stop, ears_db_spl) as show:
                check_temperature(bench.thermometer, order.shelved.limits)
                runs = tuple(self._attempts(bench, order, operator, on_progress, stop, set_apart))
                report = UnitReport(runs, notices)
                self._ambient = ambient_of(report.final, self._ambient)
                show(lamp_of(report.final))
                return report

    def suspects_of(self, report: UnitReport) -> Diagnosis | None:
        """Return who is suspected of a fail; None if the unit did not fail.

        To be asked after the verdict is told: it takes a moment, which nobody waits for.
        """
        return self._suspicion.of_failing(report.final, self._shelf)

    def make_safe(self) -> None:
        """Silence the output and cut the unit off, from any thread and whatever is going on."""
        self._bench.audio.silence()
        self._bench.fixture.fall_safe()

    def ears_db_spl(self) -> float | None:
        """Return how loud the loudest model gets here, where that calls for hearing protection."""
        levels = [
            ears_at_risk_db_spl(self._bench.station, file.limits, self._ambient)
            for file in self._shelf.files
        ]
        return max((level for level in levels if level is not None), default=None)

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
        self,
        bench: Bench,
        order: Order,
        operator: Operator | None,
        on_progress: ProgressCallback,
        stop: threading.Event,
        set_apart: SetApart | None,
    ) -> Iterator[Run]:
        """Return stored runs, one after another, as long as another one is due."""
        earlier: list[Trial] = []
        trial_run = self._admission is not None and self._admission.trial

        def attempt(number: int) -> Run:
            began = Began(
                self._new_run_id(),
                number,
                bench.clock.utc_now(),
                bench.clock.monotonic_s(),
                trial_run,
                operator,
                set_apart,
            )
            return stored_attempt(
                bench,
                self._log,
                order,
                began,
                on_progress=on_progress,
                stop=stop,
                earlier=earlier,
            )

        def tell_repeat(number: int, reason: str) -> None:
            on_progress(Progress(Stage.REPEATING, number, reason=reason))

        return trials(order.shelved, attempt, tell_repeat)
