"""Planning a crossed gauge study, and who measures which unit next."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import datetime

from station.errors import RefusedInputError
from station.records.kept.gauge import GaugeEntry, GaugePlan, GaugeStep

FEWEST = 2  # of units, operators and repeats; with fewer there is no spread to see


def planned(
    study_id: str,
    *,
    serials: Sequence[str],
    operators: Sequence[str],
    repeats: int,
    model: str,
    title: str,
    by: str,
    at_utc: datetime,
    simulated: bool,
    seed: int,
) -> GaugePlan:
    """Return a plan whose order is drawn by chance, so that no drift looks like an operator.

    Every round has every unit once by every operator; within a round an operator measures all
    units before the next one takes over, because people come and go less easily than units.

    Raises
    ------
    RefusedInputError
        If there are too few of anything, or one is named twice.
    """
    for what, names in (("unit", serials), ("operator", operators)):
        if len(names) < FEWEST:
            raise RefusedInputError(
                f"A study needs {FEWEST} {what}s or more.", f"Name another {what}."
            )
        if twice := next((name for name in names if list(names).count(name) > 1), None):
            raise RefusedInputError(f"The {what} {twice} is named twice.", "Name each once.")
    if repeats < FEWEST:
        raise RefusedInputError(
            f"A study needs {FEWEST} repeats or more.", "What one person repeats shows the station."
        )
    chance = random.Random(seed)
    steps: list[GaugeStep] = []
    for repeat in range(1, repeats + 1):
        for operator in chance.sample(list(operators), len(operators)):
            for serial in chance.sample(list(serials), len(serials)):
                steps.append(GaugeStep(len(steps) + 1, serial, operator, repeat))
    return GaugePlan(
        study_id,
        at_utc,
        by,
        simulated,
        title,
        model,
        tuple(serials),
        tuple(operators),
        repeats,
        tuple(steps),
    )


def plan_named(plans: Sequence[GaugePlan], study_id: str) -> GaugePlan:
    """Return a plan by its id; refuse an id that the log does not know."""
    for plan in plans:
        if plan.study_id == study_id:
            return plan
    known = ", ".join(plan.study_id for plan in plans) or "none yet"
    raise RefusedInputError(f"There is no gauge study {study_id!r}.", f"The log has: {known}.")


def steps_left(plan: GaugePlan, entries: Sequence[GaugeEntry]) -> tuple[GaugeStep, ...]:
    """Return the steps that were not carried out yet, in order."""
    done = {entry.step for entry in entries}
    return tuple(step for step in plan.steps if step.number not in done)
