"""The folder of limit files: which one claims a serial number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from station.errors import TextFileError, UnknownSerialError
from station.judging.limit_file import limit_file
from station.judging.tables import LimitFile


@dataclass(frozen=True, slots=True)
class ShelvedLimits:
    """A limit file with its text as it was read, which is what the log keeps."""

    limits: LimitFile
    text: str
    name: str


@dataclass(frozen=True, slots=True)
class LimitShelf:
    """All limit files of a station."""

    folder: str
    files: tuple[ShelvedLimits, ...]

    def for_serial(self, serial: str) -> ShelvedLimits:
        """Return the limit file that claims a serial number.

        Raises
        ------
        UnknownSerialError
            If none does, or more than one.
        """
        claims = [file for file in self.claiming(serial) if file.limits.service is None]
        if not claims:
            raise UnknownSerialError(
                f"No limit file in {self.folder} claims the serial number {serial!r}.",
                "Scan the label again; if it is right, ask for the model's limit file.",
            )
        if len(claims) > 1:
            names = " and ".join(file.name for file in claims)
            raise UnknownSerialError(
                f"{names} both claim the serial number {serial!r}.",
                "Ask the quality engineer to make the serial patterns exclude each other.",
            )
        return claims[0]

    def claiming(self, serial: str) -> tuple[ShelvedLimits, ...]:
        """Return every limit file that claims a serial number, those of service revisions too."""
        return tuple(f for f in self.files if re.fullmatch(f.limits.model.serial, serial))


def shelved(path: Path) -> ShelvedLimits:
    """Return one limit file with its text; raise TextFileError if it has faults."""
    limits, text = limit_file(path)
    return ShelvedLimits(limits, text, path.name)


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
