"""A checkpoint as bytes: whole or refused, of this journal and this program or refused."""

import json
import zlib
from collections.abc import Callable
from hashlib import blake2b
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.checkpoint import file
from monitor.checkpoint.file import (
    FILE_BYTES_MAX,
    MAGIC,
    STATE_BYTES_MAX,
    Key,
    Place,
    opened,
    place_of,
    written,
)
from monitor.checkpoint.graph import BadGraph
from monitor.checkpoint.keeping import BYTES_MAX, COUNT_MAX
from monitor.checkpoint.shelf import ROOM_BYTES_MIN
from monitor.journal.schema import Batch

S = 1_000_000_000
PAGE = Path(file.__file__).with_name("CHECKPOINT-FORMAT.md")
Make = Callable[..., Any]


@pytest.fixture
def raw(make_history: Make, fold: Make, key: Key) -> bytes:
    history = make_history(1, 60)
    batch = history.batches[-1]
    return written(key, place_of(batch), fold(history.rows, batch))


def test_a_place_is_a_commit_in_full() -> None:
    batch = Batch(9, 2, 50, 70 * S, 5, 6, b"\x01\xab")
    assert place_of(batch) == Place(9, 50, 70 * S, "01ab")


def test_what_is_written_is_read(make_history: Make, fold: Make, key: Key) -> None:
    history = make_history(2, 60)
    batch = history.batches[-1]
    state = fold(history.rows, batch)
    found = opened(written(key, place_of(batch), state), key)
    assert found.place == place_of(batch)
    assert found.state().incident.picture() == state.incident.picture()


SECRET = bytes(range(32))


def test_with_the_journals_key_only_what_was_tagged_with_it_is_opened(
    make_history: Make, fold: Make, key: Key
) -> None:
    """Whoever can write beside a journal can make a checksum; a tag only with the key."""
    history = make_history(2, 60)
    batch = history.batches[-1]
    state = fold(history.rows, batch)
    tagged = written(key, place_of(batch), state, SECRET)
    assert opened(tagged, key, SECRET).place == opened(tagged, key).place
    for other in (written(key, place_of(batch), state), written(key, place_of(batch), state, b"x")):
        with pytest.raises(BadGraph, match="without the journal's key"):
            opened(other, key, SECRET)


def test_a_tag_is_of_one_place_and_one_state(make_history: Make, fold: Make, key: Key) -> None:
    """Cut out and put over another state it fits no more; the checksum is made anew each time."""
    history = make_history(2, 60)
    first, last = history.batches[len(history.batches) // 2], history.batches[-1]
    one = written(key, place_of(first), fold(history.rows[: first.last_row], first), SECRET)
    other = written(key, place_of(last), fold(history.rows, last), SECRET)

    def parts(raw: bytes) -> tuple[dict[str, Any], bytes]:
        _, _, head, packed = raw.split(b"\n", 3)
        return json.loads(head), packed

    head, _ = parts(one)
    _, packed = parts(other)
    rest = json.dumps(head, separators=(",", ":")).encode() + b"\n" + packed
    checksum = blake2b(rest, digest_size=16).hexdigest().encode()
    with pytest.raises(BadGraph, match="without the journal's key"):
        opened(MAGIC + checksum + b"\n" + rest, key, SECRET)


def test_the_tag_is_as_the_page_says(make_history: Make, fold: Make, key: Key) -> None:
    history = make_history(2, 60)
    place = place_of(history.batches[-1])
    raw = written(key, place, fold(history.rows, history.batches[-1]), SECRET)
    _, _, head, packed = raw.split(b"\n", 3)
    said = json.dumps([*key, *place], separators=(",", ":")).encode()
    over = b"outby checkpoint\x00" + said + b"\n" + packed
    assert json.loads(head)["tag"] == blake2b(over, digest_size=16, key=SECRET).hexdigest()


def test_it_is_as_the_page_says(raw: bytes, key: Key) -> None:
    """Three lines of text, then zlib's format (RFC 1950); the checksum is BLAKE2b (RFC 7693)."""
    mark, checksum, head, packed = raw.split(b"\n", 3)
    assert mark + b"\n" == MAGIC
    rest = head + b"\n" + packed
    assert checksum.decode() == blake2b(rest, digest_size=16).hexdigest()
    said = json.loads(head)
    assert list(said) == ["fold", "code", "incident", "batch", "row", "t", "digest", "tag"]
    assert said["incident"] == key.incident
    assert list(json.loads(zlib.decompress(packed))) == ["shapes", "objects", "root"]


def test_the_page_tells_every_key_and_kind_and_limit() -> None:
    page = PAGE.read_text("utf-8")
    for key in (*Key._fields, *Place._fields):
        assert f"| `{key}` |" in page
    for kind in "onemltsfdqab":
        assert f'`["{kind}",' in page
    assert MAGIC.decode() in page
    for limit in (f"{COUNT_MAX} files", f"{BYTES_MAX >> 20} MiB a", f"{ROOM_BYTES_MIN >> 20} MiB",
                  f"{STATE_BYTES_MAX >> 20} MiB", f"at most {FILE_BYTES_MAX >> 20}>"):  # fmt: skip
        assert limit in page, limit


@pytest.mark.parametrize(
    "other", [{"fold": 2}, {"code": "another"}, {"incident": "1" * 32}, {"code": ""}]
)
def test_another_key_is_refused(raw: bytes, key: Key, other: dict[str, Any]) -> None:
    with pytest.raises(BadGraph, match="another"):
        opened(raw, key._replace(**other))


def test_harm_anywhere_is_refused(raw: bytes, key: Key) -> None:
    rng = Random(3)
    for _ in range(300):
        at = rng.randrange(len(raw))
        harmed = raw[:at] + bytes([raw[at] ^ rng.randrange(1, 256)]) + raw[at + 1 :]
        with pytest.raises(BadGraph):
            opened(harmed, key)
        with pytest.raises(BadGraph):
            opened(raw[:at], key)
    with pytest.raises(BadGraph):
        opened(raw + b"\x00", key)


def forged(head: bytes, packed: bytes) -> bytes:
    rest = head + b"\n" + packed
    return MAGIC + blake2b(rest, digest_size=16).hexdigest().encode() + b"\n" + rest


@pytest.mark.parametrize(
    "text",
    [
        b"no graph",
        b'{"shapes":[],"objects":[],"root":1}',
        b'{"shapes":[["monitor.checkpoint.recalled.Recalled","row"]],"objects":[["o",0,1]],"root":[0]}',
    ],
)
def test_a_right_checksum_over_a_wrong_state_is_refused(raw: bytes, key: Key, text: bytes) -> None:
    """The last says that another row was its last than its head does."""
    head = raw.split(b"\n", 3)[2]
    with pytest.raises(BadGraph):
        opened(forged(head, zlib.compress(text)), key).state()
    with pytest.raises(BadGraph):
        opened(forged(head, text), key).state()
    with pytest.raises(BadGraph):
        opened(forged(head, zlib.compress(text)[:-3]), key).state()
    for wrong in (b"{}", b"[]", b"", b"\xff", b"7"):
        with pytest.raises(BadGraph):
            opened(forged(wrong, zlib.compress(text)), key)
