"""The technician's desk for commands and screen: real or simulated, with a bench or without."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.cli.wiring.rights import allow, demonstration_keys, new_id
from station.cli.wiring.wiring import STATION_FILE, FaultsOf, held_bench, log_folder
from station.cycle.allowed.authority import Authority
from station.cycle.allowed.rights import Right
from station.cycle.bench.bench import Bench
from station.hardware.files.stationfile import station_file
from station.hardware.protocols.clock import SystemClock
from station.records.log.log import RunLog
from station.service.builtlimits import limit_sources
from station.service.desk import Place, ServiceDesk
from station.service.releases import ServiceReleases
from station.simulation.bench.stationfile import simulated_station


@dataclass(frozen=True, slots=True)
class ServiceOptions:
    """Where log, limits and station are."""

    logs: Path
    limits_folder: Path
    station_file: Path | None
    simulate: bool


@contextmanager
def desk_without_bench(options: ServiceOptions) -> Iterator[ServiceDesk]:
    """Hold a desk for all but tests, which needs no device."""
    place = Place(station_name_of(options), options.simulate, SystemClock())
    with RunLog.open(log_folder(options.logs, simulated=options.simulate)) as log:
        yield ServiceDesk(place, limit_sources(options.limits_folder), log, new_id=new_id)


@contextmanager
def desk_with_bench(
    options: ServiceOptions,
    by: str,
    pin_file: Path | None,
    *,
    seed: int,
    faults_of: FaultsOf,
    paced: bool,
    temperature_c: float | None,
) -> Iterator[tuple[ServiceDesk, Bench, RunLog]]:
    """Hold a desk with its bench and log; where the station has roles, `by` proves himself."""
    held = held_bench(
        simulate=options.simulate,
        path=options.station_file,
        temperature_c=temperature_c,
        seed=seed,
        faults_of=faults_of,
        paced=paced,
    )
    sources = limit_sources(options.limits_folder)
    with held as bench, RunLog.open(log_folder(options.logs, simulated=bench.simulated)) as log:
        authority = Authority(log, bench.clock, new_id)
        allow(authority, bench.station, by.strip(), pin_file, Right.SERVICE)
        keys = demonstration_keys() if bench.simulated else ()
        releases = ServiceReleases(authority, log, demonstration_keys=keys)
        place = Place(bench.station.name, bench.simulated, bench.clock)
        desk = ServiceDesk(place, sources, log, new_id=new_id, bench=bench, releases=releases)
        yield desk, bench, log


def station_name_of(options: ServiceOptions) -> str:
    """Return what the station is called; nothing but its file says it."""
    path = options.station_file or STATION_FILE
    if options.simulate and options.station_file is None:
        station, _ = simulated_station()
    elif path.exists() or options.station_file is not None:
        station, _ = station_file(path)
    else:
        return "no station file"
    return station.name
