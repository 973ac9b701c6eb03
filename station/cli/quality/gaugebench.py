"""The bench of the engineer's screen: taken when a gauge study is guided, and only then."""

from __future__ import annotations

import threading
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from station.cli.wiring.rights import new_id
from station.cli.wiring.wiring import held_bench, ready_cycle
from station.cycle.allowed.authority import Authority
from station.cycle.unit.report import ProgressCallback
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import RefusedInputError
from station.hardware.protocols.clock import Clock
from station.judging.files.shelf import limit_shelf
from station.quality.gauge.desk import Asked, GaugeDesk, Study, names_of, refuse_other
from station.quality.gauge.findings import GaugeFindings
from station.records.kept.gauge import GaugeStep
from station.records.kept.run import Run
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog


@dataclass(frozen=True, slots=True)
class BenchOptions:
    """Which bench, which limits and which logs."""

    limits_folder: Path
    logs: Path
    station_file: Path | None
    simulate: bool
    seed: int


class StationGaugeBench:
    """Gauge studies on the bench that a station file describes, or on simulated hardware."""

    def __init__(self, log: RunLog, clock: Clock, options: BenchOptions) -> None:
        self._options = options
        self._desk = GaugeDesk(GaugeLog(log), clock, simulated=options.simulate)
        self._authority = Authority(log, clock, new_id)
        self._in_use = threading.RLock()
        self._held = ExitStack()
        self._cycle: UnitCycle | None = None

    @property
    def simulated(self) -> bool:
        """Whether units and bench are simulated."""
        return self._options.simulate

    def studies(self) -> tuple[Study, ...]:
        """Return every study, oldest first."""
        return self._desk.studies()

    def study(self, study_id: str) -> Study:
        """Return a study as it stands."""
        return self._desk.study(study_id)

    def plan(self, *, units: str, operators: str, repeats: str, by: str, title: str) -> Study:
        """Store a plan."""
        if not repeats.isdecimal():
            raise RefusedInputError(f"{repeats!r} is no number of repeats.", "Write a number: 3.")
        if not by:
            raise RefusedInputError("It is not said who plans the study.", "Give a name.")
        asked = Asked(
            names_of(units), names_of(operators), int(repeats), by, title, self._options.seed
        )
        return self._desk.plan(asked, limit_shelf(self._options.limits_folder))

    def hold(self) -> None:
        """Take the bench."""
        options = self._options
        with self._in_use:
            if self._cycle is not None:
                return
            bench_held = held_bench(
                simulate=options.simulate,
                path=options.station_file,
                temperature_c=None,
                seed=options.seed,
                faults_of=lambda _: {},
                paced=False,
            )
            with ExitStack() as stack:
                bench = stack.enter_context(bench_held)
                cycle = ready_cycle(bench, options.limits_folder, options.logs)
                self._cycle = stack.enter_context(cycle)
                self._held = stack.pop_all()

    def let_go(self) -> None:
        """Give the bench back, after a running measurement has ended."""
        with self._in_use:
            cycle, self._cycle = self._cycle, None
            if cycle is not None and cycle.desk is not None:
                cycle.desk.sign_out()
            self._held.close()

    def greet(self, scanned: str, operator: str) -> None:
        """Let an operator begin by badge; where the station has no roles, by name as well."""
        cycle = self._at_work()
        if cycle.desk is not None:
            name = cycle.desk.sign_in(scanned).name
        else:
            person = self._authority.roster().with_badge(scanned)
            name = scanned if person is None else person.name
        refuse_other(name, operator)

    def measure(
        self, study: Study, step: GaugeStep, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> Run:
        """Carry out a step."""
        with self._in_use:
            cycle = self._at_work()
            return self._desk.carry_out(cycle, study, step, on_progress=on_progress, stop=stop)

    def findings(self, study_id: str) -> GaugeFindings:
        """Return what a complete study found."""
        return self._desk.findings(study_id)

    def _at_work(self) -> UnitCycle:
        if self._cycle is None:
            raise ValueError("the bench is not held")
        return self._cycle
