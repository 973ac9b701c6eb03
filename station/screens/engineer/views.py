"""The views of the engineer's program; a new one is one more line in VIEWS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from textual.screen import Screen

from station.screens.engineer.desk import Desk, Workshop
from station.screens.engineer.limits import LimitsScreen
from station.screens.engineer.units import UnitsScreen
from station.screens.engineer.watch import WatchScreen


@dataclass(frozen=True, slots=True)
class EngineerView:
    """One view: the key that shows it, its name, and what makes its screen."""

    key: str
    name: str
    screen: Callable[[Desk, Workshop, str], Screen[None]]


VIEWS = (
    EngineerView("1", "limits", LimitsScreen),
    EngineerView("2", "units", UnitsScreen),
    EngineerView("3", "watch", WatchScreen),
)


def views_line() -> str:
    """Return the keys of all views."""
    return " ".join(f"{view.key} {view.name}" for view in VIEWS)
