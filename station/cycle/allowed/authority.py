"""Who may do what: PINs, the lock after wrong ones, and the log of all acts and refusals.

Nothing is believed before the chains of role acts and releases were computed again: who edits a
row of them opens no door.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError

from station.cycle.allowed.rights import ROLES_WITH, Right, article, needed_words
from station.cycle.allowed.roster import Person, Role, Roster, roster_of
from station.errors import NotAllowedError, RecordsError, RefusedInputError
from station.hardware.protocols.clock import Clock
from station.records.kept.roleact import Act, RoleAct
from station.records.log.log import RunLog

TRIES = 5  # wrong PINs in a row that lock it
LOCKED = timedelta(minutes=15)  # from the last wrong one
SHORTEST_PIN = 6


class Authority:
    """The roster of one log, and what is done by right of it.

    Parameters
    ----------
    log : RunLog
        Keeps the acts.
    clock : Clock
        Says when.
    new_id : callable
        Returns a new id for each act.
    """

    def __init__(self, log: RunLog, clock: Clock, new_id: Callable[[], str]) -> None:
        self._log = log
        self._clock = clock
        self._new_id = new_id

    def now_utc(self) -> datetime:
        """Return the time by this authority's clock."""
        return self._clock.utc_now()

    def new_id(self) -> str:
        """Return an id that nothing else has."""
        return self._new_id()

    def roster(self) -> Roster:
        """Return who is enrolled and which keys are trusted.

        Raises
        ------
        RecordsError
            If a role act or a release is not as it was written.
        """
        return roster_of(self.acts())

    def acts(self) -> tuple[RoleAct, ...]:
        """Return every act, oldest first; raise RecordsError if one was changed."""
        fault = self._log.authority_fault()
        if fault is not None:
            happened = f"The log was tampered with at {fault}"
            self.record(Act.REFUSED, "the log", None, {"happened": happened})
            raise RecordsError(
                happened,
                "Keep the file, put the last good copy of the log in its place, and call the "
                "quality engineer.",
            )
        return self._log.role_acts()

    def record(
        self,
        act: Act,
        subject: str,
        person: Person | None = None,
        details: Mapping[str, str] | None = None,
    ) -> None:
        """Write an act into the log."""
        self._log.store_role_act(
            RoleAct(
                self._new_id(),
                self._clock.utc_now(),
                "" if person is None else person.name,
                "" if person is None else person.role.value,
                act,
                subject,
                details or {},
            )
        )

    def refused(
        self, error: RefusedInputError, subject: str, person: Person | None = None
    ) -> RefusedInputError:
        """Write a refusal into the log, and return it to be raised."""
        self.record(Act.REFUSED, subject, person, {"happened": error.happened})
        return error

    def check_role(self, name: str, right: Right) -> Person:
        """Return who has a right by his role, not yet proved to be there.

        Raises
        ------
        NotAllowedError
            If nobody of this name is enrolled, or the role is another; logged.
        """
        person = self.roster().people.get(name)
        if person is None:
            raise self._refusal(
                f"Nobody is enrolled as {name!r}.", "'station people list' shows who is.", right
            )
        if person.role not in ROLES_WITH[right]:
            raise self._refusal(
                f"{name} is {article(person.role)} {person.role}: {right} needs "
                f"{needed_words(right)}.",
                "Ask one of them.",
                right,
                person,
            )
        return person

    def authorised(self, name: str, pin: str, right: Right) -> Person:
        """Return who proves by a PIN to be somebody who has a right.

        Raises
        ------
        NotAllowedError
            As `check_role`, or if the PIN is wrong, or locked after too many wrong ones; logged.
        """
        person = self.check_role(name, right)
        acts = self.acts()
        wrong = tuple(wrong_tries(acts, name))
        until_utc = locked_until(wrong)
        if until_utc is not None and self.now_utc() < until_utc:
            raise self._refusal(
                f"The PIN of {name} is locked after {TRIES} wrong ones.",
                f"Wait until {until_utc:%H:%M} UTC, or ask another engineer to enrol {name} anew.",
                right,
                person,
            )
        if not pin_fits(person, pin):
            self.record(Act.WRONG_PIN, name, person)
            left = TRIES - 1 - len(wrong) % TRIES
            raise self._refusal(
                f"That is not the PIN of {name}.",
                f"Try again; {left} wrong ones more lock it for a while."
                if left
                else f"It is locked for {LOCKED // timedelta(minutes=1)} minutes now.",
                right,
                person,
            )
        self.record(Act.RIGHT_PIN, right.value, person)
        return person

    def _refusal(
        self, happened: str, remedy: str, right: Right, person: Person | None = None
    ) -> RefusedInputError:
        return self.refused(NotAllowedError(happened, remedy), right.value, person)


def wrong_tries(acts: tuple[RoleAct, ...], name: str) -> Iterator[datetime]:
    """Yield when wrong PINs of a person were tried since the last right one or enrolment."""
    newest_first = reversed(acts)
    for act in newest_first:
        if act.act is Act.WRONG_PIN and act.subject == name:
            yield act.acted_utc
        elif (act.act is Act.RIGHT_PIN and act.person == name) or (
            act.act is Act.ENROLLED and act.subject == name
        ):
            return


def locked_until(wrong: tuple[datetime, ...]) -> datetime | None:
    """Return until when a PIN is locked; every further TRIES wrong ones lock it again."""
    if not wrong or len(wrong) % TRIES:
        return None
    return max(wrong) + LOCKED


def pin_hash(pin: str) -> str:
    """Return the Argon2id hash of a PIN, encoded with its salt and its costs."""
    if len(pin) < SHORTEST_PIN:
        raise RefusedInputError(
            f"The PIN is shorter than {SHORTEST_PIN} characters.", "Take a longer one."
        )
    return PasswordHasher().hash(pin)


def pin_fits(person: Person, pin: str) -> bool:
    """Return whether it is the person's PIN."""
    try:
        return PasswordHasher().verify(person.pin_argon2, pin)
    except VerifyMismatchError:
        return False


def skilled(role: Role) -> bool:
    """Return whether a role signs in by a PIN."""
    return role is not Role.OPERATOR
