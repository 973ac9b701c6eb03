"""How many runs are no production, in one sentence and as an object."""

from __future__ import annotations

from dataclasses import asdict

from station.records.log.production import LeftOut


def left_out_sentence(left: LeftOut) -> str:
    """Return how many runs were left out and why; nothing where none was."""
    found = (
        (left.service, "in service"),
        (left.gauge, "of gauge studies"),
        (left.trials, "on trial"),
    )
    told = [f"{count} {'run' if count == 1 else 'runs'} {why}" for count, why in found if count]
    return f"Left out, being no production: {', '.join(told)}." if told else ""


def left_out_as_object(left: LeftOut) -> dict[str, int]:
    """Return the counts by name."""
    return asdict(left)
