"""Are the releases in the log what their keys signed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from station.judging.release.releasefile import release_of_text, sha256_of
from station.records.chains.chainedrows import RELEASES, all_rows
from station.records.chains.query import text_of
from station.records.kept.release import Release
from station.records.rows.releases import release_of


@dataclass(frozen=True, slots=True)
class SignaturesState:
    """The releases of a log: how many, and a sentence for each that does not hold."""

    count: int
    faults: tuple[str, ...]


def signatures_state(connection: sqlite3.Connection) -> SignaturesState:
    """Verify the signature of every release against the key it names and its limit file's text."""
    text = partial(text_of, connection)
    releases = [release_of(row, text) for row in all_rows(connection, RELEASES)]
    return SignaturesState(
        len(releases), tuple(fault for release in releases for fault in faults_of(release))
    )


def faults_of(release: Release) -> Iterator[str]:
    """Yield why a release is not what its key signed."""
    name = f"The release of {release.model} revision {release.revision}"
    if not release.release_text or not release.limit_text:
        yield f"{name} cannot be verified: its text is lost."
        return
    try:
        signed = release_of_text(release.release_text)
    except ValueError as error:
        yield f"{name} is no release file: {error}."
        return
    if not signed.intact():
        yield f"{name} was changed after it was signed: its signature does not fit."
    elif signed.limit_sha256 != sha256_of(release.limit_text):
        yield f"{name} signs another limit file than the one stored with it."
    elif (signed.public_key, signed.model, signed.revision) != (
        release.public_key,
        release.model,
        release.revision,
    ):
        yield f"{name} names another key, model or revision than the log."
