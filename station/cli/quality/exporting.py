"""`station export`: the log as tables for other programs."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from pathlib import Path

import click

from station.cli.quality.watch import instant_of
from station.cli.shared.exitcodes import Exit
from station.cli.wiring.wiring import log_folder
from station.errors import RecordsError, RefusedInputError
from station.records.files.places import DATABASE_NAME
from station.records.log.export import EXPORTED, INTEGERS, REALS, Cells, ExportLog
from station.records.log.log import RunLog

ROWS_AT_ONCE = 100_000

Writer = Callable[[Path, Sequence[str], Iterator[Cells]], int]


def export_log(
    out: Path,
    kind: str,
    *,
    model: str | None,
    since: str | None,
    until: str | None,
    logs: Path,
    simulate: bool,
) -> int:
    """Write one file for each table."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    write: Writer = parquet_writer() if kind == "parquet" else write_csv
    with RunLog.open(folder) as log:
        export = ExportLog(log, instant_of(since), instant_of(until), model)
        try:
            out.mkdir(parents=True, exist_ok=True)
            for name, columns in EXPORTED.items():
                path = out / f"{name}.{kind}"
                rows = write(path, columns, export.rows(name))
                click.echo(f"{path}: {rows} rows")
        except OSError as error:
            raise RecordsError(
                f"{out} cannot be written: {error.strerror}.", "Choose another place."
            ) from error
    return Exit.PASS


def write_csv(path: Path, columns: Sequence[str], rows: Iterator[Cells]) -> int:
    """Write a table with commas and a header (RFC 4180); an empty cell stands for no value."""
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        for row in rows:
            writer.writerow(["" if cell is None or cell != cell else cell for cell in row])  # noqa: PLR0124 - NaN alone differs from itself
            count += 1
    return count


def parquet_writer() -> Writer:
    """Return what writes Parquet, or say what is missing for it."""
    try:
        import pyarrow as pa  # noqa: PLC0415 - a large library that only this needs
        from pyarrow import parquet  # noqa: PLC0415
    except ImportError as error:
        raise RefusedInputError(
            "Parquet needs the library pyarrow, which is not installed.",
            "Install it (pip install 'station[parquet]'), or use --as csv.",
        ) from error

    kinds = dict.fromkeys(INTEGERS, pa.int64()) | dict.fromkeys(REALS, pa.float64())

    def write(path: Path, columns: Sequence[str], rows: Iterator[Cells]) -> int:
        schema = pa.schema([(name, kinds.get(name, pa.string())) for name in columns])
        count = 0
        with parquet.ParquetWriter(path, schema) as writer:
            while chunk := list(islice(rows, ROWS_AT_ONCE)):
                cells = dict(zip(columns, zip(*chunk, strict=True), strict=True))
                writer.write_table(pa.table(cells, schema))
                count += len(chunk)
        return count

    return write
