"""Who is suspected of a run's fault: after the verdict, never before it.

A model is made ready once and kept; the diagnosis itself takes about a tenth of a second.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from station.analysis.readings import Readings
from station.diagnosis.diagnose import Model, diagnosis_of, model_of_parts
from station.diagnosis.named.suspect import Diagnosis
from station.errors import UnknownSerialError
from station.judging.files.shelf import LimitShelf
from station.judging.tables.netlisttables import NetlistTable
from station.judging.tables.readingtables import SectionTable
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import Judgement, Verdict
from station.records.kept.run import Run


@dataclass(frozen=True, slots=True)
class PartsList:
    """What a limit file says of the parts."""

    netlist: NetlistTable
    sections: tuple[SectionTable, ...]


class Suspicion:
    """Diagnoses runs; keeps the models it has made ready, by what they are made of."""

    def __init__(self) -> None:
        self._models: dict[tuple[PartsList, int], Model | None] = {}

    def of(
        self, parts: PartsList | None, readings: Readings, judgement: Judgement | None
    ) -> Diagnosis:
        """Return who is suspected, from readings and the parts of the model."""
        if parts is None:
            return diagnosis_of(None, readings, judgement)
        impedance = readings.curves.get("impedance")
        key = (parts, 0 if impedance is None else impedance.frequency_hz.size)
        if key not in self._models:
            self._models[key] = model_of_parts(parts.netlist, parts.sections, readings)
        return diagnosis_of(self._models[key], readings, judgement)

    def of_run(self, run: Run, shelf: LimitShelf | None) -> Diagnosis:
        """Return who is suspected of a stored run's fault."""
        return self.of(parts_of_run(run, shelf), run.readings, run.judgement)

    def of_failing(self, run: Run, shelf: LimitShelf | None) -> Diagnosis | None:
        """Return who is suspected of a failing run's fault; None where it did not fail."""
        failed = run.judgement.verdict is Verdict.FAIL
        return self.of_run(run, shelf) if failed else None


def parts_of(limits: LimitFile) -> PartsList | None:
    """Return the parts of a limit file; None if it has no netlist."""
    if limits.netlist is None:
        return None
    return PartsList(limits.netlist, limits.readings.sections)


def parts_of_run(run: Run, shelf: LimitShelf | None) -> PartsList | None:
    """Return the parts in the limit file a run was judged by, or in today's if that had none.

    A netlist says what a revision is made of, and a revision never changes: it may be added later.
    """
    stored = tomllib.loads(run.setup.limit_text)
    if "netlist" in stored:
        sections = stored["readings"].get("sections", [])
        return PartsList(
            NetlistTable.model_validate(stored["netlist"]),
            tuple(SectionTable.model_validate(section) for section in sections),
        )
    if shelf is None:
        return None
    try:
        today = shelf.for_serial(run.serial).limits
    except UnknownSerialError:
        return None
    same = (today.model.name, today.model.revision) == (run.model, run.revision)
    return parts_of(today) if same else None
