"""How alike two tested units are, by their newest passed runs."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from station.analysis.acoustic.pairmatch import PairMatch, pair_match
from station.analysis.readings import Curve
from station.errors import NoSignalError, RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run
from station.records.log.log import RunLog


@dataclass(frozen=True, slots=True)
class MatchedBand:
    """The match in one band; `name` says which band it is."""

    name: str
    from_hz: float
    to_hz: float
    match: PairMatch


@dataclass(frozen=True, slots=True, eq=False)
class MatchedPair:
    """Two units by the runs that were compared; `newest` are their newest runs of all."""

    runs: tuple[Run, Run]
    newest: tuple[Run, Run]
    bands: tuple[MatchedBand, ...]


def matched_pair(log: RunLog, first_serial: str, second_serial: str) -> MatchedPair:
    """Return how the second unit differs from the first.

    Raises
    ------
    RefusedInputError
        If a unit has no passed run, or the two cannot be compared.
    """
    if first_serial == second_serial:
        raise RefusedInputError("Both serial numbers are the same.", "Name two units.")
    (first, first_newest), (second, second_newest) = (
        passed_run(log, serial) for serial in (first_serial, second_serial)
    )
    if first.model != second.model:
        raise RefusedInputError(
            f"{first.serial} is a {first.model}, {second.serial} a {second.model}.",
            "Compare two units of one model.",
        )
    curves = (response_of(first), response_of(second))
    if not np.array_equal(curves[0].frequency_hz, curves[1].frequency_hz):
        raise RefusedInputError(
            f"The responses of {first.serial} and {second.serial} were read at different "
            "frequencies.",
            "Test both units with the same limit file.",
        )
    try:
        bands = tuple(
            MatchedBand(
                name,
                from_hz,
                to_hz,
                pair_match(
                    curves[0].frequency_hz, curves[0].values, curves[1].values, from_hz, to_hz
                ),
            )
            for name, from_hz, to_hz in spans_of(first, curves[0])
        )
    except NoSignalError as error:
        raise RefusedInputError(error.happened, error.remedy) from error
    return MatchedPair((first, second), (first_newest, second_newest), bands)


def passed_run(log: RunLog, serial: str) -> tuple[Run, Run]:
    """Return a unit's newest passed run, and its newest run of all; no trial is looked at."""
    runs = [run for run in log.runs_of(serial) if not run.trial]
    if not runs:
        raise RefusedInputError(f"There is no run of {serial!r}.", "Check the serial number.")
    passed = [run for run in runs if run.judgement.verdict is Verdict.PASS]
    if not passed:
        raise RefusedInputError(f"{serial} has never passed.", "Compare units that have.")
    return passed[-1], runs[-1]


def response_of(run: Run) -> Curve:
    """Return the response of a run; refuse one that has none."""
    curve = run.readings.curves.get("response")
    if curve is None:
        raise RefusedInputError(
            f"The run of {run.serial} has no response.", "Test it with a limit file that reads it."
        )
    return curve


def spans_of(run: Run, response: Curve) -> Iterator[tuple[str, float, float]]:
    """Yield the bands: that of the sensitivity, if the run's limit file has one, and the whole.

    The stored text is read as plain TOML: it was checked when the run was made, perhaps by an
    older version of the software, whose files need not pass today's checks.
    """
    sensitivity = tomllib.loads(run.setup.limit_text).get("readings", {}).get("sensitivity")
    if sensitivity is not None:
        yield "sensitivity", float(sensitivity["from_hz"]), float(sensitivity["to_hz"])
    yield "response", float(response.frequency_hz[0]), float(response.frequency_hz[-1])
