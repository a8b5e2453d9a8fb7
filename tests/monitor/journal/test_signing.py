"""What is signed, byte by byte, and the arithmetic against the standard's own vectors."""

import pytest

from monitor.incident.decoding import row_of
from monitor.incident.events import Note
from monitor.incident.rows import Row, RowKind
from monitor.incident.signed import Signed
from monitor.journal import signing

VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555"
            "fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
            "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
]
"""RFC 8032, section 7.1, TEST 1 and TEST 2: secret key, public key, message, signature."""


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_the_vectors_of_the_standard(
    secret: str, public: str, message: str, signature: str
) -> None:
    seed, said, signed = map(bytes.fromhex, (secret, message, signature))
    assert signing.public_of(seed).hex() == public
    assert signing.sign(seed, said) == signed
    assert signing.is_right(bytes.fromhex(public), said, signed)
    assert not signing.is_right(bytes.fromhex(public), said + b"x", signed)
    assert not signing.is_right(bytes.fromhex(public), said, signed[:-1] + b"\x01")


def test_what_is_signed_byte_by_byte() -> None:
    """As the page of the format has it: domain, the incident with its length, batch, digest."""
    said = signing.statement("ab", 258, b"\xee" * 32)
    head = "6f75746279206a6f75726e616c207369676e617475726500000000026162"
    assert said.hex() == head + "0000000000000102" + "ee" * 32


def test_what_is_no_key_is_not_right() -> None:
    """32 bytes that are no point of the curve, and a signature that is too short."""
    assert not signing.is_right(b"\x02" + bytes(31), b"", bytes(64))
    assert not signing.is_right(bytes.fromhex(VECTORS[0][1]), b"", b"")


def test_only_the_fact_itself_is_a_signature() -> None:
    """A note that has the word in it is none, nor is one that is no JSON."""
    fact = Signed(batch=3, digest="0" * 64, signature="0" * 128)
    assert signing.signed_in(row_of(5, fact)) == fact
    note = Note(id="note-0001", by="R. Harrow", text='"signed"')
    assert signing.signed_in(row_of(5, note)) is None
    assert signing.signed_in(Row(5, RowKind.FACT, b'{"what": "signed"}')) is None
    assert signing.signed_in(Row(5, RowKind.FACT, b'"signed" {')) is None


def test_an_installation_without_the_extra_knows_it(without_signing: None) -> None:
    assert not signing.is_there()
    with pytest.raises(ModuleNotFoundError):
        signing.public_of(bytes(32))
