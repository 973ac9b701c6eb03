"""The limits that a unit in service is judged by: those of the revision it was built to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from station.cycle.stored.storedlimits import limits_of_run
from station.errors import RefusedInputError, TextFileError
from station.judging.files.shelf import LimitShelf, ShelvedLimits, limit_shelf
from station.records.kept.run import Run
from station.records.kept.service import LimitsFrom

ARCHIVE_NAME = "archive"  # beside the limit files of today


@dataclass(frozen=True, slots=True)
class BuiltLimits:
    """The limits for a unit, and where they come from."""

    shelved: ShelvedLimits
    found_in: LimitsFrom

    @property
    def revision(self) -> str:
        """The revision they stand for."""
        return self.shelved.limits.model.revision


@dataclass(frozen=True, slots=True)
class LimitSources:
    """Today's limit files, and those of revisions that are built no more."""

    shelf: LimitShelf
    archive: LimitShelf

    def for_run(self, run: Run) -> BuiltLimits:
        """Return the limits that were stored with a run.

        Raises
        ------
        TextFileError
            If the text no longer passes today's checks and no file of the archive has its
            revision.
        """
        for file in (*self.shelf.files, *self.archive.files):  # with the pattern beside it
            if file.text == run.setup.limit_text:
                return BuiltLimits(file, LimitsFrom.RUN)
        folders = (Path(self.shelf.folder), Path(self.archive.folder))
        try:
            return BuiltLimits(limits_of_run(run, folders), LimitsFrom.RUN)
        except TextFileError as error:
            kept = self._archived(run.serial, run.revision)
            if len(kept) == 1:
                return BuiltLimits(kept[0], LimitsFrom.ARCHIVE)
            raise TextFileError(
                f"The limits stored with the run of {run.serial} ({run.setup.limit_name}, "
                f"revision {run.revision}) cannot be used: {error.happened.rstrip()}",
                f"Put the file that is missing, or a limit file of revision {run.revision}, into "
                f"{self.archive.folder}.",
                error.faults,
            ) from error

    def for_unlogged(self, serial: str, revision: str | None) -> BuiltLimits:
        """Return the limits for a unit older than the log: archived ones before today's.

        Raises
        ------
        RefusedInputError
            If there are none for it, or several and no revision was named.
        """
        archived = self._archived(serial, revision)
        todays = [
            file
            for file in self.shelf.claiming(serial)
            if file.limits.service is None and revision in (None, file.limits.model.revision)
        ]
        found = archived or todays
        wanted = "" if revision is None else f" of revision {revision}"
        if not found:
            raise RefusedInputError(
                f"No limit file{wanted} in {self.archive.folder} or {self.shelf.folder} is for "
                f"{serial!r}.",
                f"Check the serial number, or put the limit file it was built to into "
                f"{self.archive.folder}.",
            )
        if len(found) > 1:
            names = ", ".join(f"{f.limits.model.revision} ({f.name})" for f in found)
            raise RefusedInputError(
                f"{serial} may be of several revisions: {names}.",
                "Read the revision off the unit and name it with --revision.",
            )
        return BuiltLimits(found[0], LimitsFrom.ARCHIVE if archived else LimitsFrom.SHELF)

    def service_revisions(self, serial: str, revision: str) -> tuple[ShelvedLimits, ...]:
        """Return the service revisions there are for a unit of a revision."""
        return tuple(
            file
            for file in (*self.shelf.claiming(serial), *self.archive.claiming(serial))
            if file.limits.service is not None and file.limits.service.for_revision == revision
        )

    def service_revision(self, serial: str, revision: str, named: str) -> BuiltLimits:
        """Return the service revision of a name; raise RefusedInputError if there is none."""
        there = self.service_revisions(serial, revision)
        for file in there:
            if file.limits.model.revision == named:
                return BuiltLimits(file, LimitsFrom.SERVICE)
        names = ", ".join(file.limits.model.revision for file in there) or "there are none"
        raise RefusedInputError(
            f"There is no service revision {named!r} for {serial}, built to revision {revision}.",
            f"Name one of these: {names}." if there else "Leave the revision out.",
        )

    def _archived(self, serial: str, revision: str | None) -> list[ShelvedLimits]:
        return [
            file
            for file in self.archive.claiming(serial)
            if file.limits.service is None and revision in (None, file.limits.model.revision)
        ]


def in_archive(path: Path) -> bool:
    """Return whether a limit file stands in an archive folder."""
    return path.resolve().parent.name == ARCHIVE_NAME


def limit_sources(limits_folder: Path) -> LimitSources:
    """Return today's limit files and those in the archive folder beside them, if there is one."""
    archive = limits_folder / ARCHIVE_NAME
    kept = limit_shelf(archive) if any(archive.glob("*.toml")) else LimitShelf(str(archive), ())
    return LimitSources(limit_shelf(limits_folder), kept)
