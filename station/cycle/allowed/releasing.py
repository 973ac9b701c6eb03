"""Releasing a limit file: checked, signed, and in the log before the release file is there."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from station.cycle.allowed.admission import entry_of, for_the_line
from station.cycle.allowed.authority import Authority
from station.cycle.allowed.roster import Person
from station.errors import NotAllowedError, RecordsError, RefusedInputError
from station.judging.files.shelf import ShelvedLimits, shelved
from station.judging.release.keys import PrivateKey
from station.judging.release.releasefile import (
    ReleaseFile,
    release_of_text,
    release_path,
    sha256_of,
    signed_release,
)
from station.judging.tables.revisions import start_of
from station.records.kept.release import Release
from station.records.kept.roleact import Act
from station.records.log.log import RunLog


@dataclass(frozen=True, slots=True)
class Released:
    """What came of it; `again` if this very file had been released before."""

    shelved: ShelvedLimits
    release: ReleaseFile
    path: Path
    again: bool


def release_limits(
    authority: Authority,
    log: RunLog,
    path: Path,
    key: PrivateKey,
    by: Person,
    *,
    archived: bool = False,
) -> Released:
    """Release a limit file, and write the release file beside it.

    Who releases the same bytes of a revision again gets the first release back. An `archived` file
    judges units in service only, so that it may begin where one of production does; released again
    outside the archive, it judges on the line.

    Raises
    ------
    TextFileError
        If the limit file has faults.
    NotAllowedError
        If the key is not trusted in this log.
    RefusedInputError
        If the revision was released with other contents, or does not say where it begins.
    RecordsError
        If log or file cannot be written.
    """
    file = shelved(path)
    model = file.limits.model
    refuse_untrusted(authority, key, model.name, by)
    earlier = [release for release in log.releases() if release.model == model.name]
    same = [
        one for one in earlier if one.revision == model.revision and one.limit_text == file.text
    ]
    for_line = for_the_line(file, archived=archived)
    again = any(one.serial_pattern for one in same) if for_line else bool(same)
    others = [one for one in earlier if one not in same]
    if not again and (happened := fault_among(file, others, for_line=for_line)) is not None:
        error = RefusedInputError(*happened)
        raise authority.refused(error, f"{model.name} {model.revision}", by)
    if same:
        release = release_of_text(same[0].release_text)
    else:
        release = signed_release(file.limits, file.text, by.name, authority.now_utc(), key)
    if not again:
        log.store_release(entry_of(file, release, authority, archived=archived))
        details = {
            "model": model.name,
            "revision": model.revision,
            "limit_sha256": sha256_of(file.text),
        }
        authority.record(Act.RELEASED, f"{model.name} {model.revision}", by, details)
    return Released(file, release, written(release, release_path(path)), again)


def refuse_untrusted(authority: Authority, key: PrivateKey, model: str, by: Person) -> None:
    """Refuse a key that the log does not trust; raise NotAllowedError."""
    if key.public.hex not in authority.roster().keys:
        raise authority.refused(
            NotAllowedError(
                f"The key {key.public.fingerprint} is not trusted in this log.",
                "An engineer trusts it with 'station keys trust'.",
            ),
            model,
            by,
        )


def fault_among(
    file: ShelvedLimits, earlier: Iterable[Release], *, for_line: bool
) -> tuple[str, str] | None:
    """Return what happened and the remedy if a revision does not fit those released before."""
    model = file.limits.model
    for release in earlier:
        if release.revision == model.revision:
            return (
                f"Revision {model.revision} of the {model.name} was released on "
                f"{release.released_utc:%Y-%m-%d} with other contents, and a revision never "
                "changes.",
                "Give the file a new revision, and say with holds_from where it begins.",
            )
        if (
            for_line
            and release.serial_pattern
            and start_of(release.holds_from) == start_of(model.holds_from)
        ):
            begins = "the first unit" if model.holds_from is None else model.holds_from
            return (
                f"Revision {release.revision} of the {model.name} begins with {begins} already.",
                "Say with holds_from in the table [model] with which unit this revision begins.",
            )
    return None


def written(release: ReleaseFile, path: Path) -> Path:
    """Write a release file whole, or leave what was there."""
    temporary = path.with_name(f"{path.name}.new")
    try:
        with temporary.open("w", encoding="utf-8", newline="") as file:
            file.write(release.text())
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be written: {error.strerror}.",
            "Mend that and release the same file again: its release is in the log already.",
        ) from error
    return path
