"""`station backup` and `station let-go`: copies of the log, and recordings that go by rule."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from station.cli.keeping.verifying import some_of
from station.cli.shared.exitcodes import Exit
from station.cli.wiring.openlog import folder_with_log
from station.judging.verdicts.verdict import Verdict
from station.records.keeping.backup import back_up
from station.records.keeping.lettinggo import let_go
from station.records.log.log import RunLog
from station.records.recordings.retention import RetentionRule


def make_backup(logs: Path, target: Path, *, simulate: bool) -> int:
    """Copy the log, and say what the copy holds; 4 if a recording could not be copied."""
    made = back_up(folder_with_log(logs, simulate=simulate), target)
    entries = ", ".join(f"{seq} {name}" for name, (seq, _) in made.tips.links.items() if seq)
    click.echo(f"{target} holds {entries or 'no entries yet'}; its chains were tried and hold.")
    click.echo(
        f"Recordings: {made.recordings_copied} copied, {made.recordings_there} there already."
    )
    click.echo("To go back to it, use that folder as the logs folder.")
    if made.doubtful:
        click.echo(
            f"MISSING or CHANGED, and not copied: {some_of(made.doubtful)}. "
            "Look at 'station verify-log'.",
            err=True,
        )
        return Exit.FAULT
    return Exit.PASS


def let_recordings_go(
    logs: Path, rule: RetentionRule, now_utc: datetime, *, simulate: bool, dry_run: bool
) -> int:
    """Let recordings go by a rule, and say which and what that freed."""
    with RunLog.open(folder_with_log(logs, simulate=simulate)) as log:
        done = let_go(log, rule, now_utc, dry_run=dry_run)
    word = "would be let go" if dry_run else "were let go"
    click.echo(
        f"{rule} {len(done.names)} {word}, {done.freed_bytes / 1e6:.1f} MB; every run stays."
    )
    if done.names:
        click.echo(some_of(done.names))
    if done.doubtful:
        click.echo(
            f"Missing or not what was stored, and kept: {some_of(done.doubtful)}. "
            "Look at 'station verify-log'.",
            err=True,
        )
        return Exit.FAULT
    return Exit.PASS


def rule_of(verdicts: tuple[str, ...], older_than_days: float, keep: int) -> RetentionRule:
    """Return the rule that the options of a command state."""
    return RetentionRule(frozenset(map(Verdict, verdicts)), older_than_days, keep)
