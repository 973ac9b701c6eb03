"""A release as a row of the log, and back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from station.records.kept.release import Release
from station.records.rows.values import Row, sha256, utc_text


def release_row(release: Release) -> Row:
    """Return the row of a release, complete but for its place in the chain."""
    return {
        "release_id": release.release_id,
        "taken_in_utc": utc_text(release.taken_in_utc),
        "model": release.model,
        "revision": release.revision,
        "serial_pattern": release.serial_pattern,
        "holds_from": release.holds_from,
        "released_utc": utc_text(release.released_utc),
        "released_by": release.released_by,
        "public_key": release.public_key,
        "limit_name": release.limit_name,
        "limit_sha256": sha256(release.limit_text.encode()),
        "release_sha256": sha256(release.release_text.encode()),
    }


def release_texts(release: Release) -> dict[str, str]:
    """Return the texts a release refers to, under their SHA-256."""
    texts = (release.limit_text, release.release_text)
    return {sha256(text.encode()): text for text in texts}


def release_of(row: Row, text: Callable[[str], str]) -> Release:
    """Return the release that a row tells of; `text` finds texts by their SHA-256."""
    return Release(
        release_id=row["release_id"],
        taken_in_utc=datetime.fromisoformat(row["taken_in_utc"]),
        model=row["model"],
        revision=row["revision"],
        serial_pattern=row["serial_pattern"],
        holds_from=row["holds_from"],
        released_utc=datetime.fromisoformat(row["released_utc"]),
        released_by=row["released_by"],
        public_key=row["public_key"],
        limit_name=row["limit_name"],
        limit_text=text(row["limit_sha256"]),
        release_text=text(row["release_sha256"]),
    )
