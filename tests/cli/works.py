"""A works for tests of roles and releases: an engineer, his key, and limits to release."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.cycle.line import LIMITS

ENGINEER, ENGINEER_PIN = "I. Thwaite", "471199"
PASSPHRASE = "four words nobody guesses"
REVISION_B = 'revision = "B"\nholds_from = "T2A01500"'


@dataclass(frozen=True)
class Works:
    """One folder with limits, logs and keys; commands run as on a real station's simulated twin."""

    folder: Path
    station: Any

    @property
    def limits(self) -> Path:
        return self.folder / "limits"

    @property
    def tarn(self) -> Path:
        return self.limits / "tarn2.toml"

    @property
    def key(self) -> Path:
        return self.folder / "line.key"

    @property
    def database(self) -> Path:
        return self.folder / "logs" / "simulated" / "station.db"

    def file(self, name: str, contents: str) -> Path:
        path = self.folder / name
        path.write_text(f"{contents}\n", encoding="utf-8")
        return path

    def run(self, *arguments: str | Path) -> Any:
        return self.station(*arguments, "--simulate", "--logs", self.folder / "logs")

    def by(self, name: str = ENGINEER, pin: str = ENGINEER_PIN) -> tuple[str | Path, ...]:
        return "--by", name, "--pin-file", self.file("pin", pin)

    def add(self, name: str, role: str, *more: str | Path, pin: str = "") -> Any:
        new = ("--new-pin-file", self.file("new-pin", pin)) if pin else ()
        return self.run("people", "add", name, "--role", role, *new, *more)

    def make_key(self, name: str = "other.key") -> Path:
        phrase = self.file("passphrase", PASSPHRASE)
        path = self.folder / name
        assert self.station("keys", "make", path, "--passphrase-file", phrase).code == 0
        return path

    def trust(self, key: Path, *by: str | Path) -> Any:
        return self.run("keys", "trust", f"{key}.pub", *(by or self.by()))

    def release(self, path: Path, key: Path, *by: str | Path) -> Any:
        phrase = self.file("passphrase", PASSPHRASE)
        secrets = ("--passphrase-file", phrase, *(by or self.by()))
        return self.run("limits", "release", path, "--key", key, *secrets)

    def test(self, serial: str = "T2A00901", *more: str | Path) -> Any:
        return self.run("test", serial, "--limits-folder", self.limits, *more)

    def revision_b(self) -> Path:
        """Write a second revision of the Tarn 2, which begins with T2A01500."""
        text = self.tarn.read_text(encoding="utf-8")
        assert 'revision = "A"' in text
        path = self.limits / "tarn2-b.toml"
        path.write_text(text.replace('revision = "A"', REVISION_B), encoding="utf-8")
        return path

    def refusals(self) -> list[str]:
        """Return every refusal that the log holds, oldest first."""
        acts = self.run("people", "acts", "--json").runs()
        return [act["details"]["happened"] for act in acts if act["act"] == "refused"]

    def tamper(self, statement: str) -> None:
        """Change the database as somebody would who knows his way about: the rules come back."""
        other = sqlite3.connect(self.database, isolation_level=None)
        found = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
        rules = other.execute(found).fetchall()
        for name, _ in rules:
            other.execute(f"DROP TRIGGER {name}")
        assert other.execute(statement).rowcount > 0
        for _, rule in rules:
            other.execute(rule)
        other.close()


def new_works(folder: Path, station: Any) -> Works:
    """Return a works with one engineer, and a limits folder whose files nobody released."""
    works = Works(folder, station)
    works.limits.mkdir(parents=True)
    for path in LIMITS.glob("*.toml"):
        shutil.copy(path, works.limits)
    for path in LIMITS.glob("*.json"):
        shutil.copy(path, works.limits)  # pattern files
    assert works.add(ENGINEER, "engineer", pin=ENGINEER_PIN).code == 0
    return works


def released_works(folder: Path, station: Any) -> Works:
    """Return a works whose Tarn 2 is released by a trusted key."""
    works = new_works(folder, station)
    works.make_key(works.key.name)
    assert works.trust(works.key).code == 0
    assert works.release(works.tarn, works.key).code == 0
    return works
