"""Keys: whose signature holds, and what opens a private one."""

from __future__ import annotations

import base64
import json
import stat
from pathlib import Path

import pytest

from station.errors import NotAllowedError, RefusedInputError
from station.judging.release.keys import PublicKey, make_key, opened_key, public_key_of

PASSPHRASE = "four words nobody guesses"
# RFC 8032, 7.1, TEST 2: public key, message and signature.
RFC_KEY = PublicKey("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
RFC_MESSAGE = bytes.fromhex("72")
RFC_SIGNATURE = bytes.fromhex(
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
    "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
)


def test_a_published_signature_holds_and_a_changed_one_does_not() -> None:
    assert RFC_KEY.signed(RFC_MESSAGE, RFC_SIGNATURE)
    assert not RFC_KEY.signed(b"\x73", RFC_SIGNATURE)
    assert not RFC_KEY.signed(RFC_MESSAGE, RFC_SIGNATURE[:-1] + b"\x01")
    assert not RFC_KEY.signed(RFC_MESSAGE, b"")
    assert not PublicKey("00").signed(RFC_MESSAGE, RFC_SIGNATURE)


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a private key's file, made once: opening one is slow on purpose."""
    path = tmp_path_factory.mktemp("keys") / "a.key"
    make_key(path, PASSPHRASE)
    return path


def test_a_made_key_signs_what_its_public_half_finds_signed(key: Path) -> None:
    private = opened_key(key, PASSPHRASE)
    public = public_key_of(key.with_name("a.key.pub"))
    assert public == private.public
    assert public.signed(b"limits", private.signature(b"limits"))
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert len(public.fingerprint) == 16
    assert private._key.private_bytes_raw().hex() not in key.read_text()


def test_a_published_public_key_file_is_read(tmp_path: Path) -> None:
    # RFC 8410, 10.1; the last 32 bytes of its DER form are the key
    body = "MCowBQYDK2VwAyEAGb9ECWmEzf6FQbrBZ9w7lshQhqowtrbLDFw4rXAxZuE="
    path = tmp_path / "rfc.pub"
    path.write_text(f"-----BEGIN PUBLIC KEY-----\n{body}\n-----END PUBLIC KEY-----\n")
    assert public_key_of(path).hex == base64.b64decode(body)[-32:].hex()


def test_only_the_passphrase_opens_it_and_only_unchanged(key: Path, tmp_path: Path) -> None:
    with pytest.raises(NotAllowedError, match="does not open"):
        opened_key(key, PASSPHRASE + " ")
    contents = json.loads(key.read_text())
    for name in ("sealed", "public_key"):
        first = "1" if contents[name][0] == "0" else "0"
        changed = {**contents, name: first + contents[name][1:]}
        path = tmp_path / "changed.key"
        path.write_text(json.dumps(changed))
        with pytest.raises(NotAllowedError, match="does not open"):
            opened_key(path, PASSPHRASE)


@pytest.mark.parametrize(
    "contents", ["", "{}", "[]", "null", '{"format": 1, "kind": "release key"}', "-----BEGIN"]
)
def test_what_is_no_key_is_refused(tmp_path: Path, contents: str) -> None:
    path = tmp_path / "a.key"
    path.write_text(contents)
    with pytest.raises(RefusedInputError, match="is no private key of format 1"):
        opened_key(path, PASSPHRASE)
    with pytest.raises(RefusedInputError, match="is no Ed25519 public key"):
        public_key_of(path)
    with pytest.raises(RefusedInputError, match="cannot be read"):
        opened_key(tmp_path / "nowhere", PASSPHRASE)


def test_a_key_is_never_overwritten_and_its_passphrase_is_long(key: Path, tmp_path: Path) -> None:
    before = key.read_bytes()
    with pytest.raises(RefusedInputError, match="exists"):
        make_key(key, PASSPHRASE)
    assert key.read_bytes() == before
    with pytest.raises(RefusedInputError, match="shorter than 12"):
        make_key(tmp_path / "b.key", "short")
    assert not (tmp_path / "b.key").exists()
