"""Keys that release limit files: Ed25519, the private half sealed in a file by a passphrase.

The public half is a PEM file as any program reads it. The private half is JSON: what seals it is
Argon2id with the second recommended choice of RFC 9106, section 4, and AES-256-GCM, because the
usual PEM encryption lets a passphrase be tried thousands of times a second.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidSignature, InvalidTag
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from station.errors import NotAllowedError, RecordsError, RefusedInputError

FORMAT = 1
KIND = "release key"
TIME_COST, MEMORY_KIB, LANES = 3, 65536, 4
SALT_BYTES, NONCE_BYTES, KEY_BYTES = 16, 12, 32
SHORTEST_PASSPHRASE = 12
FINGERPRINT_DIGITS = 16
PUBLIC_ENDING = ".pub"


@dataclass(frozen=True, slots=True)
class PublicKey:
    """The public half, as the hex of its 32 bytes."""

    hex: str

    @property
    def fingerprint(self) -> str:
        """What people compare: the beginning of its SHA-256."""
        return hashlib.sha256(bytes.fromhex(self.hex)).hexdigest()[:FINGERPRINT_DIGITS]

    def signed(self, message: bytes, signature: bytes) -> bool:
        """Return whether the private half signed this message."""
        try:
            Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.hex)).verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True


class PrivateKey:
    """The private half, opened."""

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key

    @property
    def public(self) -> PublicKey:
        """The public half."""
        return PublicKey(self._key.public_key().public_bytes_raw().hex())

    def signature(self, message: bytes) -> bytes:
        """Return the signature of a message."""
        return self._key.sign(message)


def make_key(path: Path, passphrase: str) -> PublicKey:
    """Write a new private key and beside it the public one; refuse to replace any file."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise RefusedInputError(
            f"The passphrase is shorter than {SHORTEST_PASSPHRASE} characters.",
            "Take a longer one, for example four words that have nothing to do with each other.",
        )
    key = Ed25519PrivateKey.generate()
    public = PrivateKey(key).public
    pem = key.public_key().public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    public_path = path.with_name(path.name + PUBLIC_ENDING)
    for file, contents, mode in (
        (public_path, pem, 0o644),
        (path, sealed(key.private_bytes_raw(), public, passphrase).encode(), 0o600),
    ):
        try:
            with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
                out.write(contents)
        except FileExistsError:
            raise RefusedInputError(f"{file} exists.", "Choose another name for the key.") from None
        except OSError as error:
            raise RecordsError(
                f"{file} cannot be written: {error.strerror}.", "Choose another place."
            ) from error
    return public


def sealed(private: bytes, public: PublicKey, passphrase: str) -> str:
    """Return the text of a private key's file."""
    salt, nonce = os.urandom(SALT_BYTES), os.urandom(NONCE_BYTES)
    box = AESGCM(sealing_key(passphrase, salt)).encrypt(nonce, private, public.hex.encode())
    contents = {
        "format": FORMAT,
        "kind": KIND,
        "public_key": public.hex,
        "argon2id_salt": salt.hex(),
        "aes_256_gcm_nonce": nonce.hex(),
        "sealed": box.hex(),
    }
    return json.dumps(contents, indent=2) + "\n"


def sealing_key(passphrase: str, salt: bytes) -> bytes:
    """Return the key that a passphrase stands for; slow on purpose."""
    return hash_secret_raw(
        passphrase.encode(), salt, TIME_COST, MEMORY_KIB, LANES, KEY_BYTES, Type.ID
    )


def opened_key(path: Path, passphrase: str) -> PrivateKey:
    """Return the private key of a file.

    Raises
    ------
    RefusedInputError
        If the file is missing or is no private key.
    NotAllowedError
        If the passphrase does not open it.
    """
    contents = bytes_of(path, "private key")
    try:
        plain = json.loads(contents)
        if plain["format"] != FORMAT or plain["kind"] != KIND:
            raise ValueError
        public = str(plain["public_key"])
        salt, nonce, box = (
            bytes.fromhex(plain[name]) for name in ("argon2id_salt", "aes_256_gcm_nonce", "sealed")
        )
        if len(salt) != SALT_BYTES or len(nonce) != NONCE_BYTES:
            raise ValueError
    except (KeyError, TypeError, ValueError) as error:
        raise RefusedInputError(
            f"{path} is no private key of format {FORMAT}.",
            "Name the file that 'station keys make' wrote, not the public one.",
        ) from error
    try:
        private = AESGCM(sealing_key(passphrase, salt)).decrypt(nonce, box, public.encode())
    except InvalidTag:
        raise NotAllowedError(
            f"The passphrase does not open {path}, or the file was changed.",
            "Type the passphrase it was made with.",
        ) from None
    return PrivateKey(Ed25519PrivateKey.from_private_bytes(private))


def public_key_of(path: Path) -> PublicKey:
    """Return the public key of a PEM file; refuse anything else."""
    try:
        return public_key_of_pem(bytes_of(path, "public key"))
    except ValueError as error:
        raise RefusedInputError(
            f"{path} is no Ed25519 public key in PEM form.",
            f"Name the file ending in {PUBLIC_ENDING} that 'station keys make' wrote.",
        ) from error


def public_key_of_pem(pem: bytes) -> PublicKey:
    """Return the public key of a PEM text; raise ValueError if it holds none of ours."""
    key = serialization.load_pem_public_key(pem)
    if not isinstance(key, Ed25519PublicKey):
        raise ValueError("a key of another kind")
    return PublicKey(key.public_bytes_raw().hex())


def bytes_of(path: Path, what: str) -> bytes:
    """Return a file's bytes; refuse one that cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise RefusedInputError(
            f"The {what} {path} cannot be read: {error.strerror}.", "Check the path."
        ) from error
