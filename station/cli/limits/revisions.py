"""`station limits diff` and `station limits releases`: what changed, when, and by whom."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.wiring.rights import authority_in
from station.cli.wiring.wiring import log_folder
from station.cycle.calibration.calibrationstate import day_words
from station.errors import TextFileError
from station.judging.differences.differences import changes_between
from station.judging.files.limit_file import limit_file
from station.judging.release.keys import PublicKey
from station.judging.tables.tables import LimitFile
from station.records.kept.release import Release
from station.tomlfiles.loading import model_from_toml

NOTHING = "nothing that decides: only author, reason or remarks"
FORMAT = 1


def show_differences(old_path: Path, new_path: Path) -> int:
    """Tell what changed from one limit file to another."""
    old, old_text = limit_file(old_path)
    new, new_text = limit_file(new_path)
    if old_text == new_text:
        click.echo("The two files are the same.")
        return Exit.PASS
    for words in changes_between(old, new) or (NOTHING,):
        click.echo(words)
    return Exit.PASS


def show_releases(logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Tell every release the log knows of, and what changed since the model's one before."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, log):
        authority.acts()  # a changed log is refused
        releases = log.releases()
    if not releases and not as_json:
        click.echo("Nothing is released.")
    before: dict[str, Release] = {}
    for release in releases:
        changes = changes_since(before.get(release.model), release)
        before[release.model] = release
        if as_json:
            click.echo(json.dumps(as_object(release, changes), ensure_ascii=False))
        else:
            click.echo(release_words(release, changes))
    return Exit.PASS


def changes_since(before: Release | None, release: Release) -> list[str]:
    """Return what changed from the release before; nothing for a model's first one."""
    if before is None:
        return []
    try:
        old, new = (
            model_from_toml(one.limit_text, one.limit_name, LimitFile)  # as it was released
            for one in (before, release)
        )
    except TextFileError as error:
        return [f"cannot be compared by this version: {error.faults[0]}"]
    return list(changes_between(old, new)) or [NOTHING]


def release_words(release: Release, changes: list[str]) -> str:
    """Return one release for people."""
    facts = about(release)
    begins = "the first unit" if release.holds_from is None else release.holds_from
    lines = [
        f"{release.model} revision {release.revision}, from {begins}",
        f"  released {day_words(release.released_utc)} by {release.released_by} "
        f"(key {PublicKey(release.public_key).fingerprint})",
        f"  written by {facts['author']}, {facts['day']}: {facts['reason']}",
        *(f"  - {words}" for words in changes),
    ]
    return "\n".join(lines)


def about(release: Release) -> dict[str, str]:
    """Return author, day and reason, as the limit file says them."""
    model = tomllib.loads(release.limit_text)["model"]
    return {name: str(model[name]) for name in ("author", "day", "reason")}


def as_object(release: Release, changes: list[str]) -> dict[str, object]:
    """Return one release as the object it is printed as."""
    return {
        "format": FORMAT,
        "model": release.model,
        "revision": release.revision,
        "holds_from": release.holds_from,
        **about(release),
        "released_by": release.released_by,
        "released_utc": release.released_utc.isoformat(),
        "taken_in_utc": release.taken_in_utc.isoformat(),
        "key": PublicKey(release.public_key).fingerprint,
        "limit_file": release.limit_name,
        "changes": changes,
    }
