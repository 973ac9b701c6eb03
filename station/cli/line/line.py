"""`station run`: the operator's screen, on real or simulated hardware."""

from __future__ import annotations

from pathlib import Path

from station.cli.shared.exitcodes import Exit
from station.cli.shared.faultkeeping import fault_keeper
from station.cli.wiring.attached import attached_scanner
from station.cli.wiring.rights import AskedRights
from station.cli.wiring.simulatedcycle import SimulatedLineCycle
from station.cli.wiring.wiring import held_bench, log_folder, ready_cycle
from station.hardware.protocols.clock import SystemClock
from station.screens.line.app import OperatorApp
from station.simulation.factory.demo import demo_batch
from station.simulation.factory.line import LineState, SimulatedLine
from station.simulation.factory.shift import Shift


def run_line(
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    asked: AskedRights,
    *,
    simulate: bool,
    seed: int,
    temperature_c: float | None,
) -> int:
    """Show the operator's screen until it is left."""
    today = SystemClock().utc_now().toordinal()
    line = SimulatedLine(LineState(Shift(seed, today), planted=dict(demo_batch())))
    bench_held = held_bench(
        simulate=simulate,
        path=station_file,
        temperature_c=temperature_c,
        seed=seed,
        faults_of=line.faults_of,
        paced=True,
        conditions_of=line.conditions_of,
        checked=True,
    )
    with bench_held as bench, ready_cycle(bench, limits_folder, logs, asked) as cycle:
        keep = fault_keeper(log_folder(logs, simulated=bench.simulated), bench.clock)
        app = OperatorApp(
            SimulatedLineCycle(cycle, line) if simulate else cycle,
            station_name=bench.station.name,
            simulated=simulate,
            on_fault=keep,
            next_unit=line.waiting if simulate else None,
            scanner=None if simulate else attached_scanner(bench.station),
            ears_db_spl=cycle.ears_db_spl(),
            desk=cycle.desk,
            trial=asked.trial,
        )
        app.run(mouse=False)
    return Exit.PASS
