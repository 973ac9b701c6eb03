"""`station doctor`: what is there, what is missing, and how to mend it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from station.cli.keeping.serialdoctor import device_rows, port_rows
from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import STATION_FILE, log_folder, versions
from station.cycle.calibration.calibrationstate import InputState, day_words, input_states
from station.cycle.ready.stationcheck import remedy_of, why_due
from station.errors import StationError
from station.hardware.audio.devices import list_devices
from station.hardware.files.stationfile import station_file
from station.hardware.protocols.clock import SystemClock
from station.judging.files.shelf import limit_shelf
from station.records.files.places import DATABASE_NAME
from station.records.log.log import RunLog
from station.reports.pdf import pdf_of

LOW_SPACE_BYTES = 2_000_000_000  # about 1500 runs with their recordings


@dataclass(frozen=True, slots=True)
class Looked:
    """One thing looked at; `remedy` is empty where all is well."""

    what: str
    found: str
    remedy: str = ""


def examine(limits_folder: Path, logs: Path, station_path: Path | None) -> int:
    """Look at everything, print a table, and leave with 4 if something needs mending."""
    path = station_path or STATION_FILE
    looked = [
        *looked_at_versions(),
        looked_at_station_file(path),
        *looked_at_audio(),
        *(Looked(*row) for row in port_rows()),
        *looked_at_serial_devices(path),
        looked_at_limits(limits_folder),
        looked_at_log(log_folder(logs, simulated=False)),
        looked_at_log(log_folder(logs, simulated=True)),
        *looked_at_calibrations(path, log_folder(logs, simulated=False), datetime.now(UTC)),
        *looked_at_check(path, log_folder(logs, simulated=False), datetime.now(UTC)),
        looked_at_space(logs),
        looked_at_pdf(),
    ]
    rows = [("ok" if not row.remedy else "MEND", row.what, row.found, row.remedy) for row in looked]
    click.echo(plain_table(("", "looked at", "found", "to do"), rows))
    click.echo("\nSimulated hardware needs none of the devices: station run --simulate")
    return Exit.FAULT if any(row.remedy for row in looked) else Exit.PASS


def looked_at_pdf() -> Looked:
    """Look for the libraries behind PDF, by making a small one."""
    try:
        pdf_of("<p>A</p>")
    except StationError as error:
        return Looked("paper", error.happened, error.remedy)
    return Looked("paper", "PDF can be written")


def looked_at_versions() -> Iterator[Looked]:
    """Yield the versions that are stored with every run."""
    words = ", ".join(f"{name} {number}" for name, number in versions().items())
    yield Looked("versions", words)


def looked_at_station_file(path: Path) -> Looked:
    """Look at the station file."""
    if not path.exists():
        example = Path(__file__).parents[2] / "hardware" / "files" / "example.station.toml"
        return Looked("station file", f"no {path}", f"Copy {example} there and fill it in.")
    try:
        station, _ = station_file(path)
    except StationError as error:
        return Looked("station file", error.happened, error.remedy)
    inputs = ", ".join(f"{row.role} on {row.input}" for row in station.inputs)
    return Looked("station file", f"{station.name}: {station.audio.device}, {inputs}")


def looked_at_audio() -> Iterator[Looked]:
    """Yield the audio devices, or why none can be listed."""
    try:
        devices = list_devices()
    except StationError as error:
        yield Looked("audio", error.happened, error.remedy)
        return
    if not devices:
        yield Looked("audio", "no device", "Connect the audio interface and switch it on.")
    for device in devices:
        channels = f"{device.inputs} in, {device.outputs} out"
        yield Looked("audio", f"{device.name} ({device.host_api}): {channels}")


def looked_at_serial_devices(path: Path) -> Iterator[Looked]:
    """Yield what hangs on serial ports; nothing where the station file is at fault, told above."""
    try:
        station, _ = station_file(path)
    except StationError:
        return
    for row in device_rows(station, SystemClock()):
        yield Looked(*row)


def looked_at_limits(folder: Path) -> Looked:
    """Look at the limit files."""
    try:
        shelf = limit_shelf(folder)
    except StationError as error:
        return Looked("limits", error.happened.strip(), error.remedy)
    models = ", ".join(
        f"{file.limits.model.name} {file.limits.model.revision}" for file in shelf.files
    )
    return Looked("limits", f"{folder}: {models}")


def looked_at_log(folder: Path) -> Looked:
    """Look at a log and its chain, if it was begun."""
    if not (folder / DATABASE_NAME).exists():
        return Looked("log", f"none yet in {folder}; the first run begins it")
    try:
        with RunLog.open(folder) as log:
            mended, fault, count = log.mended, log.chain_fault(), log.run_count()
    except StationError as error:
        return Looked("log", error.happened, error.remedy)
    if mended:
        return Looked("log", " ".join(mended), "Look at 'station verify-log'; keep the folder.")
    if fault is not None:
        return Looked("log", f"{folder}: {fault}", "Keep the file and call the quality engineer.")
    return Looked("log", f"{folder}: {count} runs, chain unbroken")


def looked_at_calibrations(path: Path, folder: Path, now_utc: datetime) -> Iterator[Looked]:
    """Yield how each input stands; nothing where station file or log is at fault, told above."""
    try:
        station, _ = station_file(path)
        if not (folder / DATABASE_NAME).exists():
            states = input_states(station, None)
        else:
            with RunLog.open(folder) as log:
                states = input_states(station, log)
    except StationError:
        return
    for state in states:
        fault = state.fault(now_utc)
        found = state_words(state, now_utc) if fault is None else fault.happened
        yield Looked("calibration", found, "" if fault is None else fault.remedy)


def looked_at_check(path: Path, folder: Path, now_utc: datetime) -> Iterator[Looked]:
    """Yield whether a station check is due; nothing where station file or log is at fault."""
    try:
        station, _ = station_file(path)
        table = station.check
        if table is None:
            yield Looked("station check", "none is ever due")
        elif not (folder / DATABASE_NAME).exists():
            yield Looked("station check", "none was made yet", remedy_of(table.serials))
        else:
            with RunLog.open(folder) as log:
                happened = why_due(table, station.name, log, now_utc)
            yield Looked(
                "station check", happened or "holds", remedy_of(table.serials) if happened else ""
            )
    except StationError:
        return


def state_words(state: InputState, now_utc: datetime) -> str:
    """Return a calibration that holds, with the days that are left."""
    if (used := state.in_use) is None:
        return f"{state.words}: not calibrated, and none is due"
    words = f"{state.words}: {day_words(used.calibrated_utc)} by {used.calibrated_by}"
    if state.due_utc is None:
        return f"{words}; none is due"
    return f"{words}; {(state.due_utc - now_utc) / timedelta(days=1):.1f} days left"


def looked_at_space(logs: Path) -> Looked:
    """Look at the disk that holds the log."""
    existing = next(folder for folder in (logs, *logs.resolve().parents) if folder.exists())
    free = shutil.disk_usage(existing).free
    words = f"{free / 1e9:.1f} GB free for {logs}"
    return Looked("disk", words, "" if free > LOW_SPACE_BYTES else "Make room on the disk.")
