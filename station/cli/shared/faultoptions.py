"""Faults planted on the command line."""

from __future__ import annotations

from collections.abc import Mapping

from station.errors import RefusedInputError
from station.simulation.faults import fault_of


def parsed_faults(faults: tuple[str, ...]) -> Mapping[str, float]:
    """Return faults by name; NAME alone means the fault's own usual severity."""
    planted: dict[str, float] = {}
    for fault in faults:
        name, equals, severity = fault.partition("=")
        try:
            planted[name] = float(severity) if equals else fault_of(name).default
        except ValueError as error:
            raise RefusedInputError(
                f"The severity of fault {name!r} is no number: {severity!r}.",
                "Write NAME=NUMBER, for example low_bias=0.2.",
            ) from error
    return planted
