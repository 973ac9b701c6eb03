"""Who stands at the line: signed in and out by badge, and asked for before every test."""

from __future__ import annotations

import re

from station.cycle.allowed.authority import Authority
from station.cycle.allowed.roster import Person
from station.errors import NotAllowedError
from station.records.kept.roleact import Act
from station.records.kept.run import Operator

SCAN_BADGE = "Scan your badge, then the unit."


class OperatorDesk:
    """One desk with one badge scanner; whoever is enrolled may test with his badge."""

    def __init__(self, authority: Authority, badge_pattern: str) -> None:
        self._authority = authority
        self._pattern = re.compile(badge_pattern)
        self._signed_in: Person | None = None

    def is_badge(self, scanned: str) -> bool:
        """Return whether a scan is a badge, and no serial number."""
        return self._pattern.fullmatch(scanned) is not None

    @property
    def operator(self) -> Operator | None:
        """Who has signed in."""
        person = self._signed_in
        return None if person is None else Operator(person.name, person.badge)

    def sign_in(self, badge: str) -> Operator:
        """Sign in whose badge it is, and sign out who was; raise NotAllowedError, logged."""
        person = self._authority.roster().with_badge(badge)
        if person is None:
            error = NotAllowedError(
                f"The badge {badge} belongs to nobody who is enrolled.",
                "Ask an engineer to enrol it.",
            )
            raise self._authority.refused(error, badge)
        if person != self._signed_in:
            self.sign_out()
            self._authority.record(Act.SIGNED_IN, badge, person)
            self._signed_in = person
        return Operator(person.name, person.badge)

    def sign_out(self) -> None:
        """Sign out whoever has signed in."""
        person, self._signed_in = self._signed_in, None
        if person is not None:
            self._authority.record(Act.SIGNED_OUT, person.badge, person)

    def at_work(self) -> Operator:
        """Return who tests now; raise NotAllowedError if nobody, or nobody any longer, may."""
        signed_in = self.operator
        if signed_in is None:
            raise NotAllowedError("Nobody has signed in.", SCAN_BADGE)
        person = self._authority.roster().with_badge(signed_in.badge)
        if person is None or person.name != signed_in.name:
            self._signed_in = None
            error = NotAllowedError(f"{signed_in.name} is no longer enrolled.", SCAN_BADGE)
            raise self._authority.refused(error, signed_in.badge)
        return signed_in
