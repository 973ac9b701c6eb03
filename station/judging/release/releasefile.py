"""The release file beside a limit file: who released exactly these bytes, signed.

JSON of one exact form, so that every byte counts: `format` 1, `model`, `revision`,
`limit_sha256`, `released_by`, `released_utc`, `public_key` (hex) and `signature` (hex, Ed25519).
Signed are SIGNED_HEAD and the same JSON without the signature. A pattern file is covered through
its SHA-256 in the limit file.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from station.judging.files.shelf import RELEASE_ENDING
from station.judging.release.keys import PrivateKey, PublicKey
from station.judging.tables.tables import LimitFile

FORMAT = 1
SIGNED_HEAD = b"station: release of a limit file\n"


@dataclass(frozen=True, slots=True)
class ReleaseFile:
    """What a release file says."""

    model: str
    revision: str
    limit_sha256: str
    released_by: str
    released_utc: str
    public_key: str
    signature: str = ""

    @property
    def key(self) -> PublicKey:
        """The key it names."""
        return PublicKey(self.public_key)

    @property
    def released(self) -> datetime:
        """When it was released."""
        return datetime.fromisoformat(self.released_utc)

    def message(self) -> bytes:
        """Return the bytes that are signed."""
        contents = {"format": FORMAT, **asdict(self)}
        del contents["signature"]
        return SIGNED_HEAD + json.dumps(contents, ensure_ascii=False, indent=2).encode()

    def text(self) -> str:
        """Return the text of the file."""
        contents = {"format": FORMAT, **asdict(self)}
        return json.dumps(contents, ensure_ascii=False, indent=2) + "\n"

    def intact(self) -> bool:
        """Return whether it is as it was signed by the key it names."""
        try:
            signature = bytes.fromhex(self.signature)
        except ValueError:
            return False
        return self.key.signed(self.message(), signature)


def signed_release(
    limits: LimitFile, limit_text: str, released_by: str, released_utc: datetime, key: PrivateKey
) -> ReleaseFile:
    """Return the signed release of a limit file."""
    unsigned = ReleaseFile(
        model=limits.model.name,
        revision=limits.model.revision,
        limit_sha256=sha256_of(limit_text),
        released_by=released_by,
        released_utc=released_utc.isoformat(timespec="seconds"),
        public_key=key.public.hex,
    )
    signature = key.signature(unsigned.message()).hex()
    return ReleaseFile(**{**asdict(unsigned), "signature": signature})


def release_of_text(text: str) -> ReleaseFile:
    """Return what a release file's text says; raise ValueError if it is not of the exact form."""
    try:
        plain = json.loads(text)
        if not isinstance(plain, dict) or plain.pop("format", None) != FORMAT:
            raise ValueError("no release of this format")
        release = ReleaseFile(**plain)
    except (RecursionError, TypeError) as error:
        raise ValueError("no release") from error
    if not all(isinstance(value, str) for value in asdict(release).values()):
        raise ValueError("something in it is no text")
    if release.released.tzinfo is None:
        raise ValueError("its time has no zone")
    if release.text() != text:
        raise ValueError("not of the exact form")
    return release


def release_path(limit_path: Path) -> Path:
    """Return where the release file of a limit file stands."""
    return limit_path.with_suffix(RELEASE_ENDING)


def sha256_of(text: str) -> str:
    """Return the SHA-256 of a text that was read as UTF-8."""
    return hashlib.sha256(text.encode()).hexdigest()
