"""Which act needs which role."""

from __future__ import annotations

from enum import StrEnum

from station.cycle.allowed.roster import Role


class Right(StrEnum):
    """Something not everybody may do, in the words of a sentence."""

    RELEASE = "releasing limits"
    TRUST = "trusting a key"
    ENROL = "enrolling people"
    TRIAL = "a trial"
    CALIBRATE = "calibrating"
    SERVICE = "a service test"


SKILLED = (Role.TECHNICIAN, Role.ENGINEER)
ROLES_WITH: dict[Right, tuple[Role, ...]] = {
    Right.RELEASE: (Role.ENGINEER,),
    Right.TRUST: (Role.ENGINEER,),
    Right.ENROL: (Role.ENGINEER,),
    Right.TRIAL: SKILLED,
    Right.CALIBRATE: SKILLED,
    Right.SERVICE: SKILLED,
}
"""Production tests need nothing but a badge: see operatordesk.py."""


def needed_words(right: Right) -> str:
    """Return whom an act needs, as part of a sentence."""
    return " or ".join(f"{article(role)} {role}" for role in ROLES_WITH[right])


def article(role: Role) -> str:
    """Return "a" or "an"."""
    return "an" if role[0] in "aeio" else "a"
