"""Commits as messages: there and back, by hand from the page, and bytes nobody thought of."""

import random
import struct
import zlib
from hashlib import blake2b
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.journal import digest
from monitor.journal.schema import KIND_OF, Batch, Session
from monitor.journal.sealing import Sealed
from monitor.relay import wire
from monitor.relay.wire import Bad, Commit, CommitsMessage, HeaderMessage, Joiner

I64 = st.integers(-(2**63), 2**63 - 1)
TEXTS = st.text(st.characters(codec="utf-8"), max_size=20)
DIGESTS = st.binary(min_size=16, max_size=16)


@st.composite
def sealed(draw: st.DrawFn, number: int) -> Sealed:
    count = draw(st.integers(0, 5))
    several: Any = lambda one: draw(st.lists(one, min_size=count, max_size=count))  # noqa: E731
    rows = digest.NO_ROWS
    if count:
        rows = digest.Columns(
            several(I64), several(st.sampled_from(sorted(KIND_OF))),
            several(st.integers(0, 65_535)), several(I64),
            several(st.none() | st.integers(-32_767, 32_767)), several(st.binary(max_size=90)),
        )  # fmt: skip
    session = draw(st.integers(1, 2**32 - 1))
    new = None
    if draw(st.booleans()):
        new = Session(session, draw(TEXTS), draw(I64), draw(I64), draw(TEXTS))
    last_row = draw(st.integers(count, 2**63 - 1))
    horizon = draw(st.integers(0, 366 * 86_400 * 10**9))
    batch = Batch(number, session, last_row, horizon, draw(I64), draw(I64), draw(DIGESTS))
    return Sealed(batch, batch, rows, new)


@st.composite
def several_sealed(draw: st.DrawFn) -> list[Sealed]:
    first = draw(st.integers(1, 2**40))
    return [draw(sealed(first + place)) for place in range(draw(st.integers(1, 4)))]


def sent(commits: list[Sealed]) -> list[bytes]:
    first, last = commits[0].batch.batch, commits[-1].batch.batch
    return wire.commits_message(first, last, [wire.commit_bytes(one) for one in commits])


def joined(parts: list[bytes]) -> Any:
    joiner = Joiner()
    *before, last = [joiner.take(part) for part in parts]
    assert before == [None] * len(before)
    return last


def as_lists(commit: Commit) -> tuple[Any, ...]:
    return commit.batch, [list(column) for column in commit.rows], commit.new


@given(several_sealed())
def test_commits_come_back_as_they_were(commits: list[Sealed]) -> None:
    message = joined(sent(commits))
    assert isinstance(message, CommitsMessage)
    assert [as_lists(one) for one in message.commits] == [
        (one.batch, [list(column) for column in one.rows], one.new) for one in commits
    ]


@given(st.dictionaries(TEXTS, TEXTS, max_size=20), DIGESTS)
def test_a_header_comes_back_as_it_was(stored: dict[str, str], made: bytes) -> None:
    assert joined(wire.header_message(stored, made)) == HeaderMessage(stored, made)


def test_a_message_by_hand() -> None:
    """The bytes of RELAY-FORMAT.md, without the codec: one commit of one row, not compressed."""
    batch_bytes = (
        struct.pack(">QIQqqqI", 7, 1, 42, 1_000, 5, 6, 1)
        + struct.pack(">qBHqhI", 950, 1, 2, 0, -70, 3)
        + b"abc"
    )
    made = blake2b(bytes(16) + batch_bytes, digest_size=16).digest()
    by_hand = (
        b"OBY1" + struct.pack(">BHHQQ", 2, 0, 1, 7, 7)
        + struct.pack(">IB", len(batch_bytes), 0) + made + batch_bytes
    )  # fmt: skip
    batch = Batch(7, 1, 42, 1_000, 5, 6, made)
    rows = digest.Columns([950], [1], [2], [0], [-70], [b"abc"])
    before = Batch(6, 1, 41, 900, 4, 5, bytes(16))
    assert digest.of_batch(before, batch, rows, None, b"") == made
    assert sent([Sealed(before, batch, rows)]) == [by_hand]


def test_what_is_large_is_compressed_and_what_is_larger_comes_in_parts() -> None:
    noise = random.Random(1).randbytes(240_000)
    rows = digest.Columns([1] * 9, [1] * 9, [1] * 9, [0] * 9, [None] * 9, [noise] * 9)
    batch = Batch(3, 1, 9, 1, 0, 0, bytes(16))
    raw = digest.batch_bytes(batch, rows, None)
    parts = sent([Sealed(batch, batch, rows)])
    # Noise of 240,000 bytes lies further apart than the 32 KiB that deflate looks back (RFC 1951).
    assert len(parts) == -(-len(raw) // wire.PART_BYTES_MAX) == 5
    message = joined(parts)
    assert isinstance(message, CommitsMessage)
    assert message.commits[0].rows.data == [noise] * 9
    even = digest.Columns([1] * 99, [1] * 99, [1] * 99, [0] * 99, [None] * 99, [b"x" * 50] * 99)
    (one,) = sent([Sealed(batch, batch._replace(last_row=99), even)])
    assert one[4] == wire.COMMITS | wire.COMPRESSED
    assert len(one) < 1_000


def test_parts_of_two_messages_do_not_make_one() -> None:
    noise = random.Random(2).randbytes(250_000)
    rows = digest.Columns([1] * 5, [1] * 5, [1] * 5, [0] * 5, [None] * 5, [noise] * 5)
    made = [Batch(number, 1, 9, 1, 0, 0, bytes(16)) for number in (3, 4)]
    one, other = ([*sent([Sealed(batch, batch, rows)])] for batch in made)
    joiner = Joiner()
    assert joiner.take(one[0]) is None
    assert joiner.take(other[1]) is Bad.PARTS
    assert joiner.take(one[1]) is Bad.PARTS
    for part in other[:-1]:
        assert joiner.take(part) is None
    assert isinstance(joiner.take(other[-1]), CommitsMessage)


# ---------------------------------------------------------------- from anybody


@given(st.binary(max_size=300))
def test_any_bytes_are_a_message_or_a_reason(raw: bytes) -> None:
    assert isinstance(Joiner().take(raw), Bad)
    for kind in (wire.HEADER, wire.COMMITS):
        first = kind - 1
        head = struct.pack(">4sBHHQQ", wire.MAGIC, kind, 0, 1, first, first)
        found = Joiner().take(head + raw)
        assert isinstance(found, Bad) or raw


@given(several_sealed(), st.data())
def test_a_changed_byte_is_a_reason_or_another_message(
    commits: list[Sealed], data: st.DataObject
) -> None:
    """Never the same one, and never an error: what it then says is for the digest to judge."""
    (raw,) = sent(commits)
    place = data.draw(st.integers(0, len(raw) - 1))
    changed = bytearray(raw)
    changed[place] ^= data.draw(st.integers(1, 255))
    found = Joiner().take(bytes(changed))
    if isinstance(found, CommitsMessage):
        before = Joiner().take(raw)
        assert isinstance(before, CommitsMessage)
        assert found != before
    else:
        assert found is None or isinstance(found, Bad | HeaderMessage)


@given(several_sealed(), st.data())
def test_what_is_cut_off_is_a_reason(commits: list[Sealed], data: st.DataObject) -> None:
    (raw,) = sent(commits)
    assert isinstance(Joiner().take(raw[: data.draw(st.integers(0, len(raw) - 1))]), Bad)


def _message(body: bytes, kind: int = wire.COMMITS, first: int = 7, last: int = 7) -> bytes:
    return struct.pack(">4sBHHQQ", wire.MAGIC, kind, 0, 1, first, last) + body


def test_a_body_that_swells_without_end_is_too_long() -> None:
    swollen = zlib.compress(bytes(wire.BODY_BYTES_MAX + 1))
    assert len(swollen) < wire.PART_BYTES_MAX
    assert Joiner().take(_message(swollen, wire.COMMITS | wire.COMPRESSED)) is Bad.LONG


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (_message(zlib.compress(b"x")[:-1], wire.COMMITS | wire.COMPRESSED), Bad.COMPRESSION),
        (_message(zlib.compress(b"x") + b"y", wire.COMMITS | wire.COMPRESSED), Bad.COMPRESSION),
        (_message(b"x", 3), Bad.HEAD),
        (_message(b"x", first=8), Bad.HEAD),
        (_message(b"x", first=0, last=7), Bad.HEAD),
        (_message(b"x", wire.HEADER), Bad.HEAD),
        (_message(bytes(16) + b"outby journal\x01", wire.HEADER, 0, 0), Bad.VALUE),
        (_message(struct.pack(">IB16s", 4, 0, bytes(16)) + bytes(4)), Bad.LENGTH),
        (_message(struct.pack(">IB16s", 2**32 - 1, 0, bytes(16)) + bytes(4)), Bad.LENGTH),
        (_message(struct.pack(">IB16s", 0, 2, bytes(16))), Bad.VALUE),
        (b"OBY2" + _message(b"x")[4:], Bad.HEAD),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(raw: bytes, why: Bad) -> None:
    assert Joiner().take(raw) is why


def test_commits_that_do_not_follow_one_another() -> None:
    batch = Batch(7, 1, 0, 0, 0, 0, bytes(16))
    raw = wire.commit_bytes(Sealed(batch, batch, digest.NO_ROWS))
    skipped = wire.commit_bytes(Sealed(batch, batch._replace(batch=9), digest.NO_ROWS))
    assert Joiner().take(_message(raw + skipped, last=8)) is Bad.ORDER
    assert Joiner().take(_message(raw, last=8)) is Bad.ORDER
    assert Joiner().take(_message(raw, first=6, last=6)) is Bad.ORDER
    other = Session(2, "", 0, 0, "")
    assert (
        Joiner().take(_message(wire.commit_bytes(Sealed(batch, batch, digest.NO_ROWS, other))))
        is Bad.ORDER
    )


@pytest.mark.parametrize(
    "changed",
    [{"batch": 2**63}, {"last_row": 2**63}, {"horizon": -1}, {"horizon": 367 * 86_400 * 10**9}],
)
def test_numbers_that_no_journal_has(changed: dict[str, Any]) -> None:
    batch = Batch(7, 1, 0, 0, 0, 0, bytes(16))._replace(**changed)
    raw = wire.commit_bytes(Sealed(batch, batch, digest.NO_ROWS))
    found = Joiner().take(_message(raw, first=batch.batch, last=batch.batch))
    assert found in {Bad.VALUE, Bad.HEAD}


def test_a_header_out_of_order_or_with_a_key_twice() -> None:
    text = struct.pack(">I1s", 1, b"b") * 2
    body = bytes(16) + digest.DOMAIN + text + text
    assert Joiner().take(_message(body, wire.HEADER, 0, 0)) is Bad.ORDER
    body = bytes(16) + digest.DOMAIN + struct.pack(">I1s", 1, b"\xff") * 2
    assert Joiner().take(_message(body, wire.HEADER, 0, 0)) is Bad.TEXT
