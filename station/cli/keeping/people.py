"""`station people`: who is enrolled, and every act and refusal."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.secretwords import secret
from station.cli.shared.tables import plain_table
from station.cli.wiring.rights import authority_in, by_pin
from station.cli.wiring.wiring import log_folder
from station.cycle.allowed.authority import skilled
from station.cycle.allowed.people import enrol, remove
from station.cycle.allowed.rights import Right
from station.cycle.allowed.roster import Role
from station.judging.release.keys import PublicKey
from station.records.kept.roleact import Act, RoleAct

PEOPLE_HEADERS = ("name", "role", "badge", "signs in by")
ACT_HEADERS = ("UTC", "who", "role", "act", "on", "details")
ACT_WIDTHS = (None, None, None, None, 26, 60)
SECRET_DETAILS = ("pin_argon2",)
ON_KEYS = (Act.TRUSTED, Act.DISTRUSTED)


def add_person(
    name: str,
    role: str,
    badge: str,
    by: str | None,
    pin_file: Path | None,
    new_pin_file: Path | None,
    logs: Path,
    *,
    simulate: bool,
) -> int:
    """Enrol somebody; the first engineer of a log needs nobody's leave."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        first = not authority.roster().has_engineer and by is None
        engineer = None if first else by_pin(authority, by, pin_file, Right.ENROL)
        wanted = Role(role)
        pin = secret(f"new PIN of {name}", new_pin_file, twice=True) if skilled(wanted) else ""
        enrol(authority, name, wanted, badge=badge, pin=pin, by=engineer)
    click.echo(f"{name} is enrolled as {wanted}.")
    return Exit.PASS


def remove_person(name: str, by: str, pin_file: Path | None, logs: Path, *, simulate: bool) -> int:
    """Remove somebody from the roster."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        remove(authority, name, by_pin(authority, by, pin_file, Right.ENROL))
    click.echo(f"{name} is no longer enrolled.")
    return Exit.PASS


def show_people(logs: Path, *, simulate: bool) -> int:
    """Show the roster."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        people = authority.roster().people.values()
    rows = [
        (one.name, one.role.value, one.badge, "PIN" if skilled(one.role) else "badge")
        for one in sorted(people, key=lambda one: one.name)
    ]
    click.echo(plain_table(PEOPLE_HEADERS, rows) if rows else "Nobody is enrolled.")
    return Exit.PASS


def show_acts(logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Show every act and refusal, oldest first."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        acts = authority.acts()
    if as_json:
        for act in acts:
            click.echo(json.dumps(act_as_object(act), ensure_ascii=False))
        return Exit.PASS
    rows = [
        (
            f"{act.acted_utc:%Y-%m-%d %H:%M:%S}",
            act.person,
            act.role,
            act.act.value.replace("_", " "),
            on_words(act),
            "; ".join(f"{name} {value}" for name, value in open_details(act).items()),
        )
        for act in acts
    ]
    click.echo(plain_table(ACT_HEADERS, rows, ACT_WIDTHS) if rows else "Nothing was done yet.")
    return Exit.PASS


def open_details(act: RoleAct) -> dict[str, str]:
    """Return the details that may be shown: no hash of a PIN."""
    return {name: value for name, value in act.details.items() if name not in SECRET_DETAILS}


def on_words(act: RoleAct) -> str:
    """Return what an act was done to."""
    return f"key {PublicKey(act.subject).fingerprint}" if act.act in ON_KEYS else act.subject


def act_as_object(act: RoleAct) -> dict[str, object]:
    """Return an act as the object it is printed as."""
    return {
        "format": 1,
        "id": act.act_id,
        "utc": act.acted_utc.isoformat(),
        "who": act.person,
        "role": act.role,
        "act": act.act.value,
        "on": act.subject,
        "details": open_details(act),
    }
