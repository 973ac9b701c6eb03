"""Who is enrolled, with which role, and which release keys are trusted: read from the role acts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from station.records.kept.roleact import Act, RoleAct


class Role(StrEnum):
    """What somebody may do; see rights.py."""

    OPERATOR = "operator"
    TECHNICIAN = "technician"
    ENGINEER = "engineer"


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody enrolled; `badge` or `pin_argon2` is empty where there is none."""

    name: str
    role: Role
    badge: str
    pin_argon2: str


@dataclass(frozen=True, slots=True)
class TrustedKey:
    """A key whose releases are believed, and who said so."""

    public_key: str
    since_utc: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Roster:
    """Everybody enrolled by name, and every trusted key, as of the newest act."""

    people: Mapping[str, Person]
    keys: Mapping[str, TrustedKey]

    @property
    def has_engineer(self) -> bool:
        """Whether anybody could let others in."""
        return any(person.role is Role.ENGINEER for person in self.people.values())

    def with_badge(self, badge: str) -> Person | None:
        """Return whose badge it is."""
        return next((person for person in self.people.values() if person.badge == badge), None)


def roster_of(acts: Iterable[RoleAct]) -> Roster:
    """Return the roster that all acts, oldest first, come to."""
    people: dict[str, Person] = {}
    keys: dict[str, TrustedKey] = {}
    for act in acts:
        if act.act is Act.ENROLLED:
            details = act.details
            people[act.subject] = Person(
                act.subject,
                Role(details["role"]),
                details.get("badge", ""),
                details.get("pin_argon2", ""),
            )
        elif act.act is Act.REMOVED:
            people.pop(act.subject, None)
        elif act.act is Act.TRUSTED:
            keys[act.subject] = TrustedKey(act.subject, act.acted_utc, act.person)
        elif act.act is Act.DISTRUSTED:
            keys.pop(act.subject, None)
    return Roster(people, keys)
