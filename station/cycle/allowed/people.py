"""Enrolling and removing people, and trusting keys: what engineers do to the roster."""

from __future__ import annotations

from collections.abc import Mapping

from station.cycle.allowed.admission import LOSS_SEPARATOR
from station.cycle.allowed.authority import Authority, pin_hash, skilled
from station.cycle.allowed.roster import Person, Role
from station.errors import RefusedInputError
from station.judging.release.keys import PublicKey
from station.records.kept.roleact import Act


def enrol(
    authority: Authority, name: str, role: Role, *, badge: str, pin: str, by: Person | None
) -> None:
    """Enrol somebody, or enrol him anew with another role, badge or PIN.

    `by` is the engineer who does it; None only for the first engineer of a log.
    """
    roster = authority.roster()
    if by is None and (roster.has_engineer or role is not Role.ENGINEER):
        raise RefusedInputError(
            "People are enrolled by an engineer."
            if roster.has_engineer
            else "The first to be enrolled is an engineer.",
            "Say which one with --by NAME." if roster.has_engineer else "Add --role engineer.",
        )
    if not name.strip() or name != name.strip() or not name.isprintable():
        raise RefusedInputError(f"{name!r} is no name.", "Give the name as people say it.")
    if role is Role.OPERATOR and not badge:
        raise RefusedInputError(
            "An operator signs in by a badge.", "Say what its label holds with --badge TEXT."
        )
    holder = roster.with_badge(badge) if badge else None
    if holder is not None and holder.name != name:
        raise RefusedInputError(
            f"The badge {badge} belongs to {holder.name}.", "Give each person a badge of his own."
        )
    refuse_last_engineer_lost(roster.people, name, role)
    details = {"role": role.value}
    if badge:
        details["badge"] = badge
    if skilled(role):
        details["pin_argon2"] = pin_hash(pin)
    authority.record(Act.ENROLLED, name, by, details)


def remove(authority: Authority, name: str, by: Person) -> None:
    """Remove somebody from the roster; what he did stays in the log."""
    people = authority.roster().people
    if name not in people:
        raise RefusedInputError(
            f"Nobody is enrolled as {name!r}.", "'station people list' shows who is."
        )
    refuse_last_engineer_lost(people, name, None)
    authority.record(Act.REMOVED, name, by)


def refuse_last_engineer_lost(
    people: Mapping[str, Person], name: str, new_role: Role | None
) -> None:
    """Refuse to leave a log without an engineer: nobody could be let in again."""
    engineers = {one.name for one in people.values() if one.role is Role.ENGINEER}
    if engineers == {name} and new_role is not Role.ENGINEER:
        raise RefusedInputError(
            f"{name} is the only engineer, and nobody could enrol another.",
            "Enrol another engineer first.",
        )


def trust(authority: Authority, key: PublicKey, by: Person) -> None:
    """Believe the releases of a key from now on."""
    if key.hex in authority.roster().keys:
        raise RefusedInputError(
            f"The key {key.fingerprint} is trusted already.", "Nothing is to be done."
        )
    authority.record(Act.TRUSTED, key.hex, by)


def distrust(authority: Authority, fingerprint: str, reason: str, by: Person) -> None:
    """Believe the releases of a key no longer."""
    found = [key for key in authority.roster().keys if PublicKey(key).fingerprint == fingerprint]
    if not found:
        raise RefusedInputError(
            f"No key {fingerprint} is trusted.", "'station keys list' shows which are."
        )
    authority.record(Act.DISTRUSTED, found[0], by, {"reason": reason})


def confirm_losses(authority: Authority, losses: tuple[str, ...], by: Person) -> None:
    """Say that the roster and the releases are right, although a damaged log lost entries."""
    if not losses:
        raise RefusedInputError(
            "No role act and no release is lost that nobody looked at.", "Nothing is to be done."
        )
    details = {"losses": LOSS_SEPARATOR.join(losses)}
    authority.record(Act.LOSSES_CONFIRMED, "the log", by, details)
