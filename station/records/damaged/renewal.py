"""A damaged database is set aside whole, and what proves itself goes on in a new one.

The order survives a kill at any instant: the files are moved first, and while there is none under
the log's name the next start takes up where this one was cut off. The new database appears
complete or not at all.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from datetime import datetime
from pathlib import Path

from station.records.chains.losses import Loss
from station.records.chains.tips import read_tips
from station.records.columns.store import FOLDER_NAME
from station.records.damaged.salvage import Damaged, salvaged
from station.records.files.durable import make_folder, sync_folder
from station.records.files.places import DATABASE_NAME, SET_ASIDE_NAME, TIPS_NAME

WAL_NAME = f"{DATABASE_NAME}-wal"
SHARED_NAME = f"{DATABASE_NAME}-shm"
KEPT_WAL_NAME = f"{WAL_NAME}.kept"
UNFINISHED_NAME = f".{DATABASE_NAME}.partial"
ALL_NAMES = (DATABASE_NAME, WAL_NAME, SHARED_NAME, KEPT_WAL_NAME, TIPS_NAME)
REASON_NAME = "why.txt"


def keep_wal(folder: Path) -> None:
    """Copy the write-ahead log that a kill left, before SQLite reads and then deletes it.

    SQLite takes it to end where the first damage is; what lies behind would be lost. Call it only
    while nobody else uses the folder.
    """
    wal = folder / WAL_NAME
    if wal.exists() and wal.stat().st_size > 0:
        shutil.copyfile(wal, folder / KEPT_WAL_NAME)


def forget_wal(folder: Path) -> None:
    """Delete the copy: the database was found to be whole."""
    (folder / KEPT_WAL_NAME).unlink(missing_ok=True)


def cut_off(folder: Path) -> Path | None:
    """Return the folder of a database that was set aside without a new one having been begun."""
    if (folder / DATABASE_NAME).exists():
        return None
    found = set_aside_folders(folder)
    return found[-1] if found else None


def set_aside_folders(folder: Path) -> list[Path]:
    """Return the folders of the databases that were set aside, oldest first."""
    top = folder / SET_ASIDE_NAME
    return sorted(path for path in top.iterdir() if path.is_dir()) if top.is_dir() else []


def set_aside(folder: Path, happened: str) -> Path:
    """Move the database with all that belongs to it into a new folder, and return that."""
    number = len(set_aside_folders(folder)) + 1
    aside = folder / SET_ASIDE_NAME / f"{number:04d}"
    make_folder(aside)
    (aside / REASON_NAME).write_text(f"{happened}\n", encoding="utf-8")
    move_files(folder, aside)
    return aside


def move_files(folder: Path, aside: Path) -> None:
    """Move what is still there, the database first: without it the next start goes on with this."""
    for name in ALL_NAMES:
        if (folder / name).exists():
            (folder / name).rename(aside / name)
    sync_folder(aside)
    sync_folder(folder)


def renew(folder: Path, aside: Path, now_utc: datetime) -> tuple[Loss, ...]:
    """Begin a new database with all that can be read of the one set aside; return what is lost."""
    move_files(folder, aside)
    shutil.rmtree(folder / FOLDER_NAME, ignore_errors=True)  # copies of what may be lost now
    unfinished = folder / UNFINISHED_NAME
    unfinished.unlink(missing_ok=True)
    losses = salvaged(damaged_in(aside), unfinished, now_utc)
    with unfinished.open("rb") as file:
        os.fsync(file.fileno())
    unfinished.rename(folder / DATABASE_NAME)
    sync_folder(folder)
    return losses


def damaged_in(aside: Path) -> Damaged:
    """Return the database in a folder that was set aside."""
    reason = aside / REASON_NAME
    database = aside / DATABASE_NAME
    return Damaged(
        f"{SET_ASIDE_NAME}/{aside.name}",
        database,
        tuple(aside / name for name in (WAL_NAME, KEPT_WAL_NAME) if (aside / name).exists()),
        read_tips(aside / TIPS_NAME),
        reason.read_text(encoding="utf-8").strip() if reason.exists() else "It was moved away.",
        sha256_or_none(database),
    )


def sha256_or_none(path: Path) -> str | None:
    """Return the SHA-256 of a file, None where there is none."""
    if not path.exists():
        return None
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
