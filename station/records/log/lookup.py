"""Runs found by what is known of them, and the place of each in its chain."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from station.records.rows.values import utc_text

FOUND = """SELECT
run_id, serial, model, revision, attempt, started_utc, verdict, simulated, trial, (
    SELECT happened FROM causes WHERE causes.run = runs.seq ORDER BY position LIMIT 1
) AS cause FROM runs"""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is known of the runs that are looked for; None or empty where nothing is.

    `serial` is a part of the serial number, `cause` of the name of a reading outside its limits
    or of the sentence about it. `since` is included, `until` is not.
    """

    serial: str = ""
    model: str = ""
    verdict: Verdict | None = None
    cause: str = ""
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class FoundRun:
    """A run that was found; `cause` is the sentence of its first cause, empty for a pass."""

    run_id: str
    serial: str
    model: str
    revision: str
    attempt: int
    started_utc: datetime
    verdict: Verdict
    simulated: bool
    trial: bool
    cause: str


@dataclass(frozen=True, slots=True)
class LogPlace:
    """Where a run stands in the chain of all runs."""

    number: int
    hash: str


def find_runs(log: RunLog, wanted: Wanted, most: int) -> tuple[FoundRun, ...]:
    """Return the newest runs that fit, newest first, `most` of them at most."""
    conditions, values = conditions_of(wanted)
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    with log.reading() as connection:
        rows = connection.execute(
            f"{FOUND}{where} ORDER BY seq DESC LIMIT :most", {**values, "most": most}
        ).fetchall()
    return tuple(
        FoundRun(
            run_id=row["run_id"],
            serial=row["serial"],
            model=row["model"],
            revision=row["revision"],
            attempt=row["attempt"],
            started_utc=datetime.fromisoformat(row["started_utc"]),
            verdict=Verdict(row["verdict"]),
            simulated=bool(row["simulated"]),
            trial=bool(row["trial"]),
            cause=row["cause"] or "",
        )
        for row in rows
    )


def conditions_of(wanted: Wanted) -> tuple[list[str], dict[str, str]]:
    """Return the conditions as SQL, and their values by name; words are searched in any case."""
    conditions: list[str] = []
    values: dict[str, str] = {}
    for name, word in (("serial", wanted.serial), ("model", wanted.model)):
        if word:
            conditions.append(f"instr(lower({name}), lower(:{name})) > 0")
            values[name] = word
    if wanted.verdict is not None:
        conditions.append("verdict = :verdict")
        values["verdict"] = wanted.verdict.value
    if wanted.cause:
        conditions.append(
            "EXISTS (SELECT 1 FROM causes WHERE causes.run = runs.seq AND "
            "instr(lower(reading || ' ' || happened), lower(:cause)) > 0)"
        )
        values["cause"] = wanted.cause
    for name, instant, sign in (("since", wanted.since, ">="), ("until", wanted.until, "<")):
        if instant is not None:
            conditions.append(f"started_utc {sign} :{name}")
            values[name] = utc_text(instant)
    return conditions, values


def runs_beginning(log: RunLog, beginning: str) -> tuple[tuple[str, str], ...]:
    """Return run id and serial number of the runs whose id begins like this, three at most."""
    with log.reading() as connection:
        rows = connection.execute(
            "SELECT run_id, serial FROM runs WHERE substr(run_id, 1, length(:it)) = :it LIMIT 3",
            {"it": beginning},
        ).fetchall()
    return tuple((row["run_id"], row["serial"]) for row in rows)


def place_of_run(log: RunLog, run_id: str) -> LogPlace:
    """Return number and hash of a run that is in the log."""
    with log.reading() as connection:
        row = connection.execute("SELECT seq, hash FROM runs WHERE run_id = ?", (run_id,))
        number, run_hash = row.fetchone()
    return LogPlace(number, run_hash)
