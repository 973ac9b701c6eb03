"""The technician's desk: a unit from look-up to the end of its service, each step kept at once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from station.cycle.bench.bench import Bench
from station.cycle.stored.pairs import MatchedPair, matched_pair
from station.cycle.unit.report import ProgressCallback
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import RefusedInputError
from station.hardware.protocols.clock import Clock
from station.judging.files.shelf import LimitShelf, ShelvedLimits
from station.records.kept.run import SetApart
from station.records.kept.service import (
    ImportedRecord,
    Service,
    Step,
    StepKind,
    StoredService,
)
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog
from station.service.asbuilt import matches
from station.service.builtlimits import BuiltLimits, LimitSources
from station.service.dossier import Dossier, dossier_of
from station.service.oldrecord import readings_of_old_record
from station.service.recalled import newest_test, recalled_test
from station.service.releases import ServiceReleases
from station.service.servicetest import ServiceTest, change_of


@dataclass(frozen=True, slots=True, eq=False)
class PartnerCheck:
    """The other unit of the pair beside this one; `within` is None without a limit for it."""

    pair: MatchedPair
    within: bool | None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a technician works: the station by its name, real or simulated, with its clock."""

    station_name: str
    simulated: bool
    clock: Clock


class ServiceDesk:
    """What a technician does with units; all but a test needs no bench.

    `releases` says which limits may judge; None where they were not taken from a folder that
    anybody can write to.
    """

    def __init__(
        self,
        at: Place,
        sources: LimitSources,
        log: RunLog,
        *,
        new_id: Callable[[], str],
        bench: Bench | None = None,
        releases: ServiceReleases | None = None,
    ) -> None:
        self._at = at
        self._sources = sources
        self._log = log
        self._services = ServiceLog(log)
        self._new_id = new_id
        self._bench = bench
        self._releases = releases

    def look_up(self, serial: str, revision: str | None = None) -> Dossier:
        """Return what is known of a unit; raise RefusedInputError if that is not enough."""
        return dossier_of(self._log, self._sources, serial, revision)

    def service_revisions(self, dossier: Dossier) -> tuple[ShelvedLimits, ...]:
        """Return the service revisions there are for a unit."""
        return self._sources.service_revisions(dossier.serial, dossier.revision)

    def open(
        self, serial: str, by: str, complaint: str, revision: str | None = None
    ) -> StoredService:
        """Begin a service; raise RefusedInputError if one is under way already."""
        dossier = self.look_up(serial, revision)
        if dossier.open_service is not None:
            raise RefusedInputError(
                f"{serial} is in service already.", "Go on with it, or close it first."
            )
        limits = self._limits_now(dossier, None)
        service = Service(
            service_id=self._new_id(),
            opened_utc=self._at.clock.utc_now(),
            opened_by=named(by),
            simulated=self._at.simulated,
            station_name=self._at.station_name,
            serial=serial,
            model=dossier.model,
            revision=dossier.revision,
            complaint=complaint.strip(),
            limits_from=limits.found_in,
            limit_name=limits.shelved.name,
            limit_text=limits.shelved.text,
            as_built="" if dossier.as_built is None else dossier.as_built.entry_id,
        )
        self._services.open_service(service)
        return StoredService(service, ())

    def test(
        self,
        serial: str,
        by: str,
        *,
        service_revision: str | None = None,
        on_progress: ProgressCallback,
        stop: threading.Event,
    ) -> ServiceTest:
        """Test the unit; it counts as after the repair once a part or a cause was noted.

        Raises
        ------
        RefusedInputError
            If it is not in service, there is no such service revision, or its limits must be
            released and are not.
        StationError
            Whatever a test of a unit may raise.
        """
        dossier = self.look_up(serial)
        service = in_service(dossier)
        limits = self._limits_now(dossier, service_revision)
        repaired = bool(service.of_kind(StepKind.PART, StepKind.CAUSE))
        kind = StepKind.AFTER if repaired else StepKind.BEFORE
        named_by = named(by)
        if self._releases is not None:
            self._releases.check(serial, limits)
        report = self._cycle(limits).test_unit(
            serial, on_progress=on_progress, stop=stop, set_apart=SetApart.SERVICE
        )
        self._add(service, kind, named_by, run_id=report.final.run_id)
        return ServiceTest(report, kind, limits, change_of(dossier, report.final, limits))

    def last_test(self, dossier: Dossier) -> ServiceTest | None:
        """Return the newest test of the service under way, None if something was repaired since.

        Also None where the service revision it was made by is there no more.
        """
        step = newest_test(dossier)
        if step is None:
            return None
        try:
            limits = self._limits_now(dossier, dossier.run(step.run_id).revision)
        except RefusedInputError:
            return None
        return recalled_test(dossier, step, limits)

    def replace_part(self, serial: str, by: str, part: str, batch: str, reason: str) -> None:
        """Note a part that was replaced."""
        service = in_service(self.look_up(serial))
        self._add(service, StepKind.PART, by, part=filled(part), batch=batch, words=reason)

    def confirm_cause(self, serial: str, by: str, part: str, words: str) -> None:
        """Note the part that the repair has shown to be at fault."""
        service = in_service(self.look_up(serial))
        self._add(service, StepKind.CAUSE, by, part=filled(part), words=words)

    def check_partner(self, serial: str, by: str, partner: str) -> PartnerCheck:
        """Compare the unit with the other one of its pair, by their newest passed runs."""
        dossier = self.look_up(serial)
        service = in_service(dossier)
        pair = matched_pair(self._log, serial, partner)
        within = matches(pair.bands, self._limits_now(dossier, None).shelved.limits.pair)
        whole = pair.bands[-1].match
        told = "no limits" if within is None else "inside limits" if within else "outside limits"
        words = (
            f"level {whole.level_db:+.2f} dB, shape {whole.shape_max_db:.2f} dB at most ({told})"
        )
        self._add(service, StepKind.PARTNER, by, partner=partner, words=words)
        return PartnerCheck(pair, within)

    def close(self, serial: str, by: str, words: str = "") -> None:
        """End the service."""
        self._add(in_service(self.look_up(serial)), StepKind.CLOSED, by, words=words)

    def import_record(
        self,
        contents: str,
        *,
        file_name: str,
        serial: str,
        model: str,
        revision: str,
        measured_on: str,
        origin: str,
        by: str,
    ) -> ImportedRecord:
        """Keep measurements from before the log; raise TextFileError if they cannot be read."""
        readings_of_old_record(contents, file_name)
        record = ImportedRecord(
            record_id=self._new_id(),
            imported_utc=self._at.clock.utc_now(),
            imported_by=named(by),
            simulated=self._at.simulated,
            serial=filled(serial),
            model=filled(model),
            revision=filled(revision),
            measured_on=filled(measured_on),
            origin=filled(origin),
            file_name=file_name,
            contents=contents,
        )
        self._services.import_record(record)
        return record

    def _limits_now(self, dossier: Dossier, service_revision: str | None) -> BuiltLimits:
        """Return the limits of the named service revision, of the one it has, or as built."""
        wanted = service_revision or dossier.serviced_to
        if not wanted or wanted == dossier.revision:
            return dossier.limits
        return self._sources.service_revision(dossier.serial, dossier.revision, wanted)

    def _cycle(self, limits: BuiltLimits) -> UnitCycle:
        """Return a cycle that tests by these limits and no others."""
        if self._bench is None:
            raise ValueError("this desk has no bench")
        # a service revision never claims a unit by itself, but here it was chosen
        chosen = replace(
            limits.shelved, limits=limits.shelved.limits.model_copy(update={"service": None})
        )
        return UnitCycle(
            self._bench,
            LimitShelf(limits.shelved.name, (chosen,)),
            self._log,
            new_run_id=self._new_id,
            shift_start_utc=self._at.clock.utc_now(),
        )

    def _add(
        self,
        service: StoredService,
        kind: StepKind,
        by: str,
        *,
        run_id: str | None = None,
        part: str = "",
        batch: str = "",
        partner: str = "",
        words: str = "",
    ) -> None:
        self._services.add_step(
            Step(
                step_id=self._new_id(),
                service_id=service.service.service_id,
                made_utc=self._at.clock.utc_now(),
                made_by=named(by),
                kind=kind,
                run_id=run_id,
                part=part,
                batch=batch.strip(),
                partner=partner,
                words=words.strip(),
            )
        )


def in_service(dossier: Dossier) -> StoredService:
    """Return the service that is under way; raise RefusedInputError if there is none."""
    if dossier.open_service is None:
        raise RefusedInputError(
            f"{dossier.serial} is not in service.", "Open a service for it first."
        )
    return dossier.open_service


def named(by: str) -> str:
    """Return who does it; raise RefusedInputError if nobody is named."""
    if not by.strip():
        raise RefusedInputError("It is not said who works here.", "Give a name.")
    return by.strip()


def filled(words: str) -> str:
    """Return words without spaces around them; raise RefusedInputError if none are left."""
    if not words.strip():
        raise RefusedInputError("A word is missing.", "Fill in every field that is asked for.")
    return words.strip()
