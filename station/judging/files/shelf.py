"""The folder of limit files: which one claims a serial number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from station.errors import TextFileError, UnknownSerialError
from station.judging.files.limit_file import limit_file
from station.judging.files.patternfile import beside
from station.judging.tables.revisions import holds_for, start_of
from station.judging.tables.tables import LimitFile

RELEASE_ENDING = ".release"  # the release of x.toml is x.release; see releasefile.py


@dataclass(frozen=True, slots=True)
class ShelvedLimits:
    """A limit file with its text as it was read, which is what the log keeps.

    `release_text` is what the release file beside it holds, None where there is none;
    `pattern_text` what the pattern file does, None where the limit file names none.
    """

    limits: LimitFile
    text: str
    name: str
    release_text: str | None = None
    pattern_text: str | None = None

    @property
    def start(self) -> str | None:
        """Where units of this revision begin."""
        return self.limits.model.holds_from

    def holds_for(self, serial: str) -> bool:
        """Return whether it claims a serial number and its revision had begun then."""
        return holds_for(self.limits.model.serial, self.start, serial)


@dataclass(frozen=True, slots=True)
class LimitShelf:
    """All limit files of a station."""

    folder: str
    files: tuple[ShelvedLimits, ...]

    def for_serial(self, serial: str) -> ShelvedLimits:
        """Return the limit file that claims a serial number: the revision it was built to.

        Raises
        ------
        UnknownSerialError
            If none does, or two do from the same unit on.
        """
        claims = [file for file in self.claiming(serial) if file.limits.service is None]
        if not claims:
            raise UnknownSerialError(
                f"No limit file in {self.folder} claims the serial number {serial!r}.",
                "Scan the label again; if it is right, ask for the model's limit file.",
            )
        begun = [file for file in claims if file.holds_for(serial)]
        if not begun:
            names = " and ".join(f"{file.name} from {file.start}" for file in claims)
            raise UnknownSerialError(
                f"Limit files in {self.folder} begin after the serial number {serial!r}: {names}.",
                "Scan the label again; if it is right, ask for the older revision's limit file.",
            )
        newest = max(start_of(file.start) for file in begun)
        fitting = [file for file in begun if start_of(file.start) == newest]
        if len({file.limits.model.name for file in begun}) > 1 or len(fitting) > 1:
            names = " and ".join(file.name for file in begun)
            raise UnknownSerialError(
                f"{names} both claim the serial number {serial!r}.",
                "Ask the quality engineer to make the serial patterns exclude each other, "
                "or to say with holds_from where a newer revision begins.",
            )
        return fitting[0]

    def claiming(self, serial: str) -> tuple[ShelvedLimits, ...]:
        """Return every limit file that claims a serial number, those of service revisions too."""
        return tuple(f for f in self.files if re.fullmatch(f.limits.model.serial, serial))


def shelved(path: Path) -> ShelvedLimits:
    """Return one limit file with its text; raise TextFileError if it has faults."""
    limits, text = limit_file(path)
    return ShelvedLimits(
        limits, text, path.name, release_beside(path), pattern_beside(path, limits)
    )


def pattern_beside(path: Path, limits: LimitFile) -> str | None:
    """Return the text of the pattern file that a limit file names, None if it names none."""
    table = limits.readings.pattern
    if table is None:
        return None
    try:
        return beside(path.parent)(table)
    except ValueError as error:  # it was there as it should be a moment ago
        raise TextFileError(f"The pattern file of {path} {error}.", "Try again.") from error


def release_beside(path: Path) -> str | None:
    """Return what stands in the release file of a limit file, None if there is none.

    Bytes that are no text become the replacement character, which no release holds: the one
    model is refused then, and the others are tested on.
    """
    try:
        return path.with_suffix(RELEASE_ENDING).read_bytes().decode("utf-8", "replace")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise TextFileError(
            f"The release file of {path} cannot be read: {error.strerror}.",
            "Check the file and its permissions.",
        ) from error


def limit_shelf(folder: Path) -> LimitShelf:
    """Return all limit files of a folder; raise TextFileError with every fault of every file."""
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        raise TextFileError(
            f"There is no limit file in {folder}.",
            "Name the folder that holds them with --limits-folder.",
        )
    files, faults = [], []
    for path in paths:
        try:
            files.append(shelved(path))
        except TextFileError as error:
            faults.append(error)
    if len(faults) == 1:
        raise faults[0]
    if faults:
        listed = tuple(line for error in faults for line in error.faults)
        raise TextFileError(
            "\n".join(error.happened.rstrip() for error in faults) + "\n",
            "Mend them and try again.",
            listed,
        )
    return LimitShelf(str(folder), tuple(files))
