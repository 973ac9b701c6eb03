"""The part of the log that gauge studies write and read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from station.records.chains.chainedrows import GAUGE_ENTRIES, GAUGE_STUDIES, all_rows, append
from station.records.chains.query import with_children
from station.records.kept.gauge import GaugeEntry, GaugePlan, GaugeStep
from station.records.kept.run import Run
from station.records.log.log import RunLog, runs_from
from station.records.rows.values import Row, json_text, utc_text

ENTRIES_OF = "SELECT * FROM gauge_entries WHERE study_id = ? ORDER BY step"
RUNS_OF = """SELECT gauge_entries.step, runs.* FROM gauge_entries
JOIN runs USING (run_id) WHERE study_id = ? ORDER BY step"""


class GaugeLog:
    """Gauge studies in the log of all runs; as safe to share as that log."""

    def __init__(self, log: RunLog) -> None:
        self._log = log

    def open_study(self, plan: GaugePlan) -> None:
        """Write a plan; raise ValueError if the log has a study of this id."""
        with self._log.writing() as connection:
            append(connection, GAUGE_STUDIES, plan_row(plan))

    def add_entry(self, entry: GaugeEntry) -> None:
        """Write that a step was carried out; raise ValueError if it was before."""
        with self._log.writing() as connection:
            append(connection, GAUGE_ENTRIES, entry_row(entry))

    def plans(self) -> tuple[GaugePlan, ...]:
        """Return every study, oldest first."""
        with self._log.reading() as connection:
            return tuple(plan_of(row) for row in all_rows(connection, GAUGE_STUDIES))

    def entries(self, study_id: str) -> tuple[GaugeEntry, ...]:
        """Return what was carried out of a study, in the order of its steps."""
        with self._log.reading() as connection:
            return tuple(entry_of(dict(row)) for row in connection.execute(ENTRIES_OF, (study_id,)))

    def runs(self, study_id: str) -> Mapping[int, Run]:
        """Return the runs of a study by the number of their step."""
        with self._log.reading() as connection:
            found = [dict(row) for row in connection.execute(RUNS_OF, (study_id,))]
            steps = [row.pop("step") for row in found]
            rows = (with_children(connection, row) for row in found)
            return dict(zip(steps, runs_from(connection, rows), strict=True))


def plan_row(plan: GaugePlan) -> Row:
    """Return the row of a plan, complete but for its place in the chain."""
    steps = [
        [plan.serials.index(step.serial), plan.operators.index(step.operator), step.repeat]
        for step in plan.steps
    ]
    return {
        "study_id": plan.study_id,
        "planned_utc": utc_text(plan.planned_utc),
        "planned_by": plan.planned_by,
        "simulated": int(plan.simulated),
        "title": plan.title,
        "model": plan.model,
        "plan": json_text(
            {
                "serials": plan.serials,
                "operators": plan.operators,
                "repeats": plan.repeats,
                "steps": steps,
            }
        ),
    }


def plan_of(row: Row) -> GaugePlan:
    """Return the plan that a row tells of."""
    stored = json.loads(row["plan"])
    serials, operators = tuple(stored["serials"]), tuple(stored["operators"])
    return GaugePlan(
        study_id=row["study_id"],
        planned_utc=datetime.fromisoformat(row["planned_utc"]),
        planned_by=row["planned_by"],
        simulated=bool(row["simulated"]),
        title=row["title"],
        model=row["model"],
        serials=serials,
        operators=operators,
        repeats=stored["repeats"],
        steps=tuple(
            GaugeStep(number, serials[unit], operators[operator], repeat)
            for number, (unit, operator, repeat) in enumerate(stored["steps"], start=1)
        ),
    )


def entry_row(entry: GaugeEntry) -> Row:
    """Return the row of an entry, complete but for its place in the chain."""
    return {
        "entry_id": entry.entry_id,
        "study_id": entry.study_id,
        "step": entry.step,
        "run_id": entry.run_id,
        "measured_utc": utc_text(entry.measured_utc),
    }


def entry_of(row: Row) -> GaugeEntry:
    """Return the entry that a row tells of."""
    return GaugeEntry(
        row["study_id"],
        row["step"],
        row["run_id"],
        datetime.fromisoformat(row["measured_utc"]),
    )
