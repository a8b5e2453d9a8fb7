"""Signatures over a journal: who has the public key can tell that it is the recorder's own.

A keyed digest shows a change only to those who have the key, and who has it could also make another
journal. A signature (Ed25519, RFC 8032) is made with one key and checked with another, which may
be given to everybody. What is signed is the open digest: made as the running digest, with 32 bytes
and never with a key, so that anybody can make it again from the rows::

    "outby journal signature" 00 | u32 length, incident | u64 batch | open digest of that batch

The arithmetic is that of the package ``cryptography``, the extra "signing". Without it nothing is
signed and no signature can be checked; all else goes on, and says so.
"""

from base64 import b64encode
from importlib import import_module
from struct import pack
from typing import Any

from monitor.incident.decoding import NOT_UNDERSTOOD, event_of
from monitor.incident.events import Done
from monitor.incident.rows import Row
from monitor.incident.signed import Signed
from monitor.journal.schema import Header

DOMAIN = b"outby journal signature\x00"
SEED_BYTES = 32
PUBLIC_BYTES = 32
EXTRA = "signing"


def statement(incident: str, batch: int, open_digest: bytes) -> bytes:
    """The bytes that are signed."""
    name = incident.encode()
    return b"".join((DOMAIN, pack(">I", len(name)), name, pack(">Q", batch), open_digest))


def _ed25519() -> Any:  # noqa: ANN401 - a module that may not be there
    """Imported only where somebody signs or checks. Raises ModuleNotFoundError."""
    return import_module("cryptography.hazmat.primitives.asymmetric.ed25519")


def is_there() -> bool:
    """Whether this installation can sign and check."""
    try:
        _ed25519()
    except ModuleNotFoundError:
        return False
    return True


def public_of(seed: bytes) -> bytes:
    """The public key of a private one (32 bytes at random). Raises ModuleNotFoundError."""
    found: bytes = (
        _ed25519().Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()
    )
    return found


def pem_of(public: bytes) -> str:
    """A public key as other programs read it (RFC 8410), without a line's end."""
    # SubjectPublicKeyInfo of the algorithm 1.3.101.112 is these twelve bytes and the key itself.
    der = bytes.fromhex("302a300506032b6570032100") + public
    return f"-----BEGIN PUBLIC KEY-----\n{b64encode(der).decode()}\n-----END PUBLIC KEY-----"


def sign(seed: bytes, message: bytes) -> bytes:
    """Sign: 64 bytes. Raises ModuleNotFoundError."""
    made: bytes = _ed25519().Ed25519PrivateKey.from_private_bytes(seed).sign(message)
    return made


def is_right(public: bytes, message: bytes, signature: bytes) -> bool:
    """Check one. Raises ModuleNotFoundError."""
    wrong = import_module("cryptography.exceptions").InvalidSignature
    try:
        _ed25519().Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (wrong, ValueError):
        return False
    return True


def signed_in(row: Row) -> Signed | None:
    """The signature that a row is; None for every other."""
    if b'"signed"' not in row.data:
        return None
    try:
        event = event_of(row)
    except NOT_UNDERSTOOD:
        return None
    return event.what if isinstance(event, Done) and isinstance(event.what, Signed) else None


def is_signed(found: Signed, header: Header) -> bool:
    """Whether a signature is that of the journal's own signer. Raises ModuleNotFoundError."""
    said = statement(header.incident, found.batch, bytes.fromhex(found.digest))
    return is_right(bytes.fromhex(header.signer), said, bytes.fromhex(found.signature))
