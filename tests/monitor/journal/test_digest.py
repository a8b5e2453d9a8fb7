"""The digest's bytes, made again here by hand from the format document."""

import re
from hashlib import blake2b
from pathlib import Path
from struct import pack

import pytest

from monitor.journal import digest
from monitor.journal.schema import Batch, Session

DOCUMENT = Path(__file__).parents[3] / "monitor/journal/JOURNAL-FORMAT.md"


def _by_hand(data: bytes, key: bytes = b"") -> bytes:
    return blake2b(data, digest_size=16, key=key).digest()


def test_the_worked_example_of_the_document() -> None:
    text = DOCUMENT.read_text("utf-8")
    example = text[text.index("## Worked example") :]
    said_bytes, said_hex, said_digest = (
        re.search(pattern, example).group(1)  # type: ignore[union-attr]
        for pattern in (r"these (\d+) bytes", r"```\n([0-9a-f \n]+)\n```", r"`([0-9a-f]{32})`")
    )
    raw = bytes.fromhex(said_hex)
    assert len(raw) == int(said_bytes)
    assert _by_hand(raw).hex() == said_digest
    assert digest.of_header({"use": "exercise", "fold": "1"}).hex() == said_digest


@pytest.mark.parametrize("key", [b"", b"k" * 32])
def test_a_batch_with_a_new_session(key: bytes) -> None:
    before = Batch(6, 1, 40, 900, 1, 2, bytes(range(16)))
    batch = Batch(7, 2, 42, 1_000, -5, 1_700_000_000_000_000_000, b"")
    session = Session(2, "böot", -9, 8, "outby 1")
    rows = digest.Columns(
        [950, 1_000], [1, 17], [0, 65_535], [0, 70_000_000], [None, -101], [b"", b"abc"]
    )
    expected = (
        bytes(range(16))
        + pack(">Iqq", 2, -9, 8)
        + pack(">I", 5)
        + "böot".encode()
        + pack(">I", 7)
        + b"outby 1"
        + pack(">QIQqqqI", 7, 2, 42, 1_000, -5, 1_700_000_000_000_000_000, 2)
        + pack(">qq", 950, 1_000)
        + bytes([1, 17])
        + pack(">HH", 0, 65_535)
        + pack(">qq", 0, 70_000_000)
        + pack(">hh", -32768, -101)
        + pack(">II", 0, 3)
        + b"abc"
    )
    assert digest.of_batch(before, batch, rows, session, key) == _by_hand(expected, key)


def test_a_batch_without_rows_ends_after_its_number() -> None:
    before = Batch(0, 0, 0, -1, 0, 0, bytes(16))
    batch = Batch(1, 0, 0, 5, 6, 7, b"")
    expected = bytes(16) + pack(">QIQqqqI", 1, 0, 0, 5, 6, 7, 0)
    assert digest.of_batch(before, batch, digest.NO_ROWS, None, b"") == _by_hand(expected)


def test_the_key_check_knows_the_key_again() -> None:
    assert digest.key_check(b"a") != digest.key_check(b"b")
    by_hand = blake2b(b"outby journal key check\x00", digest_size=8, key=b"a").hexdigest()
    assert digest.key_check(b"a") == by_hand


def test_a_digest_is_shown_in_groups_that_can_be_read_out() -> None:
    """The digest of JOURNAL-FORMAT.md's worked example."""
    value = bytes.fromhex("d604576fe5458bdaf1a0a3219e9824fe")
    assert digest.shown(value) == "d604 576f e545 8bda f1a0 a321 9e98 24fe"
