"""What `station doctor` says about serial ports and about what the station file puts on them.

It asks every device who and how it is; it moves and switches nothing on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from serial.tools.list_ports import comports

from station.cli.wiring.attached import opener
from station.errors import StationError
from station.hardware.attached.biasvoltmeter import ScpiBiasVoltmeter
from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.attached.serialscanner import SerialScanner
from station.hardware.attached.serialturntable import SerialTurntable
from station.hardware.files.stationfile import StationFile
from station.hardware.protocols.clock import Clock

Row = tuple[str, str, str]  # what was looked at, what was found, what to do


def port_rows() -> Iterator[Row]:
    """Yield the serial ports of this computer."""
    ports = sorted(comports(), key=lambda port: str(port.device))
    if not ports:
        yield "serial ports", "none; none is needed without a fixture", ""
    for port in ports:
        words = " ".join(dict.fromkeys(filter(None, (port.description, port.serial_number))))
        known = words if words not in ("", "n/a") else "says nothing about itself"
        yield "serial port", f"{port.device}: {known}", ""


def device_rows(station: StationFile, clock: Clock) -> Iterator[Row]:
    """Yield how each device on a serial port is."""
    if (fixture := station.fixture) is not None:
        yield looked_at("fixture", fixture.port, lambda: fixture_words(station, clock))
    if (voltmeter := station.bias_voltmeter) is not None:
        yield looked_at("bias voltmeter", voltmeter.port, lambda: voltmeter_words(station, clock))
    if (turntable := station.turntable) is not None:
        yield looked_at("turntable", turntable.port, lambda: turntable_words(station, clock))
    if (scanner := station.scanner) is not None:
        yield looked_at("scanner", scanner.port, lambda: scanner_words(station))


def looked_at(what: str, port: str, words: Callable[[], str]) -> Row:
    """Return the row of one device."""
    try:
        return what, f"{port}: {words()}", ""
    except StationError as error:
        return what, error.happened, error.remedy


def fixture_words(station: StationFile, clock: Clock) -> str:
    """Return how the fixture is; raise FixtureError."""
    assert station.fixture is not None
    fixture = SerialFixture(station.fixture, opener(station.fixture), clock)
    try:
        state = fixture.state()
    finally:
        fixture.close()
    lid = "closed" if state.lid_closed else "open"
    return f"{station.fixture.name}, lid {lid}, holds {state.unit_type}"


def voltmeter_words(station: StationFile, clock: Clock) -> str:
    """Return what the bias voltmeter shows; raise FixtureError."""
    assert station.bias_voltmeter is not None
    table = station.bias_voltmeter
    voltmeter = ScpiBiasVoltmeter(table, opener(table), clock)
    try:
        return f"{voltmeter.voltage_v():.0f} V, safe below {table.safe_v:g} V"
    finally:
        voltmeter.close()


def turntable_words(station: StationFile, clock: Clock) -> str:
    """Return where the turntable is; raise FixtureError."""
    assert station.turntable is not None
    turntable = SerialTurntable(station.turntable, opener(station.turntable), clock)
    try:
        return f"{station.turntable.name}, at {turntable.angle_deg():.1f}°"
    finally:
        turntable.close()


def scanner_words(station: StationFile) -> str:
    """Return that the scanner's port can be used; raise FixtureError."""
    assert station.scanner is not None
    scanner = SerialScanner(opener(station.scanner))
    try:
        scanner.check()
    finally:
        scanner.close()
    return "the port opens; scan a label to see that it reads"
