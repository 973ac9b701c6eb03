"""What a person did by right of a role, or was refused: an entry of the log.

`details` holds, by act:

    enrolled    role; for operators badge; for others pin_argon2 (the encoded hash); badge too
    removed, signed_in, signed_out, right_pin, wrong_pin      nothing
    trusted, distrusted     the subject is a public key in hex; reason
    released                model, revision, limit_sha256
    refused                 happened: the sentence that was told
    losses_confirmed        losses: role acts and releases that a damaged log lost, by number
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum


class Act(StrEnum):
    """What was done."""

    ENROLLED = "enrolled"
    REMOVED = "removed"
    SIGNED_IN = "signed_in"
    SIGNED_OUT = "signed_out"
    RIGHT_PIN = "right_pin"
    WRONG_PIN = "wrong_pin"
    TRUSTED = "trusted"
    DISTRUSTED = "distrusted"
    RELEASED = "released"
    REFUSED = "refused"
    LOSSES_CONFIRMED = "losses_confirmed"


@dataclass(frozen=True, slots=True)
class RoleAct:
    """One act; `person` and `role` are empty where nobody was known to act."""

    act_id: str
    acted_utc: datetime
    person: str
    role: str
    act: Act
    subject: str
    details: Mapping[str, str] = field(default_factory=dict)
