"""The triggers that keep tables append-only, whichever program opens the file."""

from __future__ import annotations


def never_changed(table: str) -> tuple[str, ...]:
    """Return the triggers that refuse to change or delete a row."""
    return tuple(
        f"""CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table}
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: no {action} in {table}'); END"""
        for action in ("UPDATE", "DELETE")
    )


def never_replaced(table: str) -> str:
    """Return the trigger that refuses to insert a text or grid that exists."""
    return f"""CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE sha256 = NEW.sha256)
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: it has this row of {table}'); END"""  # noqa: S608 - our table names


def never_late(table: str) -> str:
    """Return the trigger that refuses a child row of a run that is closed."""
    return f"""CREATE TRIGGER {table}_never_late BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM runs WHERE seq = NEW.run)
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: the run of {table} is closed'); END"""  # noqa: S608 - our table names


def following(table: str, key: str, one: str) -> tuple[str, str]:
    """Return the triggers that keep a chained table without gaps, doubles and forks."""
    # The 64 zeros of FIRST_PREVIOUS_HASH are written here as the hex of 32 zero bytes.
    return (
        f"""CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE seq = NEW.seq OR {key} = NEW.{key})
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: it has this {one}'); END""",  # noqa: S608 - our table names
        f"""CREATE TRIGGER {table}_follow BEFORE INSERT ON {table}
        WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM {table})
        OR NEW.previous_hash IS NOT coalesce(
            (SELECT hash FROM {table} ORDER BY seq DESC LIMIT 1), hex(zeroblob(32)))
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: a {one} must follow the last one'); END""",  # noqa: S608, E501 - our table names; a statement is compared as it stands in old files
    )
