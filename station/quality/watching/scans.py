"""From runs to scans, and from scans to units: what a unit was found to be, and at which try."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.records.log.watch import WatchedRun


@dataclass(frozen=True, slots=True)
class Scan:
    """All attempts of one scan; the last one decides."""

    runs: tuple[WatchedRun, ...]

    @property
    def final(self) -> WatchedRun:
        """The run that decides."""
        return self.runs[-1]

    @property
    def verdict(self) -> Verdict:
        """What it said."""
        return self.final.verdict


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit's scans in order; `decided` are those that said something about it."""

    serial: str
    scans: tuple[Scan, ...]

    @property
    def decided(self) -> tuple[Scan, ...]:
        """Scans that did not end void."""
        return tuple(scan for scan in self.scans if scan.verdict is not Verdict.VOID)

    @property
    def first(self) -> WatchedRun:
        """The run that decided first; of a unit with only voids, its first run."""
        return self.decided[0].final if self.decided else self.scans[0].final

    @property
    def first_utc(self) -> datetime:
        """When it was first tested."""
        return self.scans[0].runs[0].started_utc


def scans_of(runs: Iterable[WatchedRun]) -> tuple[Scan, ...]:
    """Return the scans of one unit; a first attempt begins a new one."""
    scans: list[list[WatchedRun]] = []
    for run in runs:
        if run.attempt == 1 or not scans:
            scans.append([])
        scans[-1].append(run)
    return tuple(Scan(tuple(scan)) for scan in scans)


def units_of(runs: Iterable[WatchedRun], leave_out: Sequence[str] = ()) -> tuple[Unit, ...]:
    """Return the units in the order they were first tested, reference units left out."""
    by_serial: dict[str, list[WatchedRun]] = {}
    for run in runs:
        if run.serial not in leave_out:
            by_serial.setdefault(run.serial, []).append(run)
    return tuple(Unit(serial, scans_of(of)) for serial, of in by_serial.items())


def references_in(station_text: str) -> tuple[str, ...]:
    """Return the reference units that a station file's text names for its checks."""
    check = tomllib.loads(station_text).get("check", {})
    return tuple(check.get("serials", ()))
