"""Signing keys, sealed with a password."""

from __future__ import annotations

import os
import unicodedata
from dataclasses import dataclass

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidSignature, InvalidTag
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

LEAST_PASSWORD = 10
"""Characters a password has at least; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one guess of a password costs whoever guesses: passes, memory, lanes of Argon2id."""

    time_cost: int
    memory_kib: int
    lanes: int


STRONG = Cost(time_cost=3, memory_kib=65536, lanes=4)
"""The second recommended option of RFC 9106, section 4 (64 MiB, t = 3, p = 4)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedKey:
    """A private key nobody can use without the password: public key, salt, nonce, the sealed 32 bytes, the cost."""

    public_key: str
    salt: bytes
    nonce: bytes
    sealed: bytes
    time_cost: int
    memory_kib: int
    lanes: int


def new_key(name: str, password: str, cost: Cost = STRONG) -> SealedKey:
    """Make a key pair for a person and seal its private half."""
    return seal(name, password, Ed25519PrivateKey.generate(), cost)


def seal(name: str, password: str, key: Ed25519PrivateKey, cost: Cost = STRONG) -> SealedKey:
    """Seal a private key with a password, bound to a person's name."""
    salt, nonce = os.urandom(16), os.urandom(12)
    secret = _derive(password, salt, cost.time_cost, cost.memory_kib, cost.lanes)
    return SealedKey(
        public_key=key.public_key().public_bytes_raw().hex(),
        salt=salt,
        nonce=nonce,
        sealed=AESGCM(secret).encrypt(nonce, key.private_bytes_raw(), name.encode()),
        time_cost=cost.time_cost,
        memory_kib=cost.memory_kib,
        lanes=cost.lanes,
    )


def unseal(name: str, password: str, kept: SealedKey) -> Ed25519PrivateKey | None:
    """Give the private key, or None where the password is not the one it was sealed with."""
    secret = _derive(password, kept.salt, kept.time_cost, kept.memory_kib, kept.lanes)
    try:
        raw = AESGCM(secret).decrypt(kept.nonce, kept.sealed, name.encode())
    except InvalidTag:
        return None
    key = Ed25519PrivateKey.from_private_bytes(raw)
    return key if key.public_key().public_bytes_raw().hex() == kept.public_key else None


def signed_by(public_key: str, signature: str, message: bytes) -> bool:
    """Tell whether a signature over a message was made with the private half of a public key."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key)).verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True


def _derive(password: str, salt: bytes, time_cost: int, memory_kib: int, lanes: int) -> bytes:
    """Give 32 bytes from a password; the same word typed on another keyboard gives the same bytes (NFC)."""
    secret = unicodedata.normalize("NFC", password).encode()
    return hash_secret_raw(secret, salt, time_cost, memory_kib, lanes, 32, Type.ID)
