"""What a station file says hangs on serial ports, opened for use and closed after."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial

from station.hardware.attached.biasvoltmeter import BiasWatch, ScpiBiasVoltmeter
from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.attached.serialscanner import SerialScanner
from station.hardware.attached.serialturntable import SerialTurntable
from station.hardware.files.serialtables import PortTable
from station.hardware.files.stationfile import StationFile
from station.hardware.ports.serialport import OpenPort, SerialPort
from station.hardware.protocols.clock import Clock
from station.hardware.protocols.fixture import Fixture
from station.hardware.protocols.manualfixture import ManualFixture
from station.hardware.protocols.turntable import Turntable


def opener(table: PortTable) -> OpenPort:
    """Return what opens a port."""
    return partial(SerialPort, table.port, table.baud)


@contextmanager
def attached_fixture(station: StationFile, clock: Clock) -> Iterator[Fixture]:
    """Hold the fixture, everything in it switched off; without a table, the operator's hands."""
    if station.fixture is None:
        yield ManualFixture()
        return
    with ExitStack() as closing:
        watch = None
        if (table := station.bias_voltmeter) is not None:
            voltmeter = ScpiBiasVoltmeter(table, opener(table), clock)
            closing.callback(voltmeter.close)
            watch = BiasWatch(voltmeter, table, clock)
        fixture = SerialFixture(station.fixture, opener(station.fixture), clock, watch)
        closing.callback(fixture.close)
        fixture.fall_safe()  # one that is missing is told before a unit is scanned
        yield fixture


@contextmanager
def attached_turntable(station: StationFile, clock: Clock) -> Iterator[Turntable | None]:
    """Hold the turntable, if the station has one."""
    if (table := station.turntable) is None:
        yield None
        return
    turntable = SerialTurntable(table, opener(table), clock)
    try:
        turntable.angle_deg()
        yield turntable
    finally:
        turntable.close()


def attached_scanner(station: StationFile) -> SerialScanner | None:
    """Return the scanner, its port open, if the station has one on a port; whoever asks ends it."""
    if (table := station.scanner) is None:
        return None
    scanner = SerialScanner(opener(table))
    scanner.check()
    return scanner
