"""What the disk and the database can do to us, as sentences an operator can act on."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from station.errors import DamagedLogError, RecordsError

FULL = "Free some space on the disk, then try again."
RIGHTS = "Check that the folder exists, that it is a folder, and that this account may write there."
DAMAGED = (
    "Delete nothing. Close every other program that uses this logs folder, then try again: "
    "the file is set aside and what can be read of it goes on in a new one."
)
DISK = "Check the disk, its free space and its file size limit, then try again."
CHANGED = "Close every other program that uses this logs folder, then 'station verify-log --mend'."
OTHER = "Move that file away, or choose another logs folder."
REFUSED = "Keep the log as it is and have this message looked into; no other run is harmed."
HELD = "Close the other program or station that uses the same logs folder, then try again."

SQLITE_TROUBLES: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_FULL: ("The disk is full, so {place} cannot grow.", FULL),
    sqlite3.SQLITE_BUSY: ("Another program holds {place}.", HELD),
    sqlite3.SQLITE_LOCKED: ("Another program holds {place}.", HELD),
    sqlite3.SQLITE_READONLY: ("{place} may only be read, not written.", RIGHTS),
    sqlite3.SQLITE_PERM: ("{place} may not be opened.", RIGHTS),
    sqlite3.SQLITE_CANTOPEN: ("{place} cannot be opened.", RIGHTS),
    sqlite3.SQLITE_CONSTRAINT: ("{place} refused the entry: {words}.", REFUSED),
    sqlite3.SQLITE_IOERR: ("The disk failed while {place} was used.", DISK),
}

DAMAGE_CODES = (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT)
NO_TEXT = "Could not decode to UTF-8"  # Python's complaint, which carries no code

OS_TROUBLES: dict[int, tuple[str, str]] = {
    errno.ENOSPC: ("The disk is full, so {place} cannot be written.", FULL),
    errno.EDQUOT: ("The disk is full, so {place} cannot be written.", FULL),
    errno.EROFS: ("{place} is on a disk that may only be read.", RIGHTS),
    errno.EACCES: ("{place} may not be written.", RIGHTS),
    errno.EPERM: ("{place} may not be written.", RIGHTS),
    errno.ENOENT: ("{place} is not there.", RIGHTS),
    errno.EEXIST: ("{place} exists already and is never overwritten.", OTHER),
    errno.ENOTDIR: ("{place} cannot be made, because a part of its path is a file.", RIGHTS),
}

PRIMARY_CODE = 0xFF  # SQLite keeps the kind of an extended result code in its low byte


@contextmanager
def records_errors(place: Path) -> Iterator[None]:
    """Turn the troubles of database and disk into RecordsError, saying which file or folder."""
    try:
        yield
    except sqlite3.Error as error:
        # Python's own complaints, such as a closed connection, carry no code.
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
        if is_damage(error):
            raise DamagedLogError(f"{place} is damaged ({error}).", DAMAGED) from error
        raise records_error(SQLITE_TROUBLES.get(code & PRIMARY_CODE), place, str(error)) from error
    except OSError as error:
        trouble = OS_TROUBLES.get(error.errno or 0)
        raise records_error(trouble, place, error.strerror or str(error)) from error


def is_damage(error: sqlite3.Error) -> bool:
    """Return whether an error says that the database is not what was written."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & PRIMARY_CODE
    return code in DAMAGE_CODES or NO_TEXT in str(error)


def records_error(trouble: tuple[str, str] | None, place: Path, words: str) -> RecordsError:
    """Return the sentences for a known trouble, or the library's own words for another."""
    happened, remedy = trouble or ("{place} cannot be used: {words}.", DISK)
    return RecordsError(happened.format(place=place, words=words), remedy)
