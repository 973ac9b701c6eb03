"""Who asks for what on the command line, and whether he may."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.cli.shared.secretwords import secret
from station.cycle.allowed.authority import Authority
from station.cycle.allowed.operatordesk import OperatorDesk
from station.cycle.allowed.rights import Right, needed_words
from station.cycle.allowed.roster import Person
from station.errors import NotAllowedError, RefusedInputError
from station.hardware.files.stationfile import StationFile
from station.hardware.protocols.clock import SystemClock
from station.judging.release.keys import public_key_of_pem
from station.records.log.log import RunLog
from station.simulation.factory.demonstrationkey import demonstration_key_pem


@dataclass(frozen=True, slots=True)
class AskedRights:
    """What a test is asked with besides the unit: a trial, by whom, or an operator's badge."""

    trial: bool = False
    by: str | None = None
    pin_file: Path | None = None
    badge: str | None = None


NOTHING_ASKED = AskedRights()


def new_id() -> str:
    """Return an id that nothing else has."""
    return uuid.uuid4().hex


def demonstration_keys() -> tuple[str, ...]:
    """Return the keys that are believed on simulated hardware."""
    return (public_key_of_pem(demonstration_key_pem()).hex,)


@contextmanager
def authority_in(folder: Path) -> Iterator[tuple[Authority, RunLog]]:
    """Hold the authority of a log, and the log."""
    with RunLog.open(folder) as log:
        yield Authority(log, SystemClock(), new_id), log


def by_pin(authority: Authority, by: str | None, pin_file: Path | None, right: Right) -> Person:
    """Return who proves by a PIN to have a right; a role is refused before a PIN is asked for."""
    if by is None:
        raise RefusedInputError(
            f"{right.capitalize()} needs {needed_words(right)}.", "Say who with --by NAME."
        )
    authority.check_role(by, right)
    return authority.authorised(by, secret(f"PIN of {by}", pin_file), right)


def allow_trial(authority: Authority, station: StationFile, asked: AskedRights) -> None:
    """Refuse a trial that is asked for by somebody who may not, where the station has roles."""
    if asked.trial and station.roles is not None:
        by_pin(authority, asked.by, asked.pin_file, Right.TRIAL)


def allow(
    authority: Authority, station: StationFile, by: str, pin_file: Path | None, right: Right
) -> None:
    """Refuse what somebody may not do, where the station has roles."""
    if station.roles is not None:
        by_pin(authority, by, pin_file, right)


def operator_desk(
    authority: Authority, station: StationFile, asked: AskedRights
) -> OperatorDesk | None:
    """Return where operators sign in, with whose badge was given signed in already.

    None where the station has no roles, and in a trial, which no operator makes.
    """
    if station.roles is None:
        if asked.badge is not None:
            raise NotAllowedError(
                "This station has no roles, so nobody signs in.",
                "Leave --badge out, or add [roles] to the station file.",
            )
        return None
    if asked.trial:
        return None
    desk = OperatorDesk(authority, station.roles.badge)
    if asked.badge is not None:
        desk.sign_in(asked.badge)
    return desk
