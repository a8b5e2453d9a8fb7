"""Messages of strangers among those of a door: none is taken. 100,000 of them by DEPTH=100."""

import random
import zlib
from dataclasses import dataclass
from pathlib import Path

import pytest

from monitor.journal.schema import Batch
from monitor.mirror.taking import Begun, Judge, Rules, begin
from monitor.relay import wire
from monitor.relay.relay import Relay
from monitor.relay.wire import CommitsMessage, HeaderMessage, Joiner
from tests.depth import DEPTH
from tests.monitor.relay.memory_stream import INCIDENT, KEY, Base, MemoryStream, no_pause

MESSAGES = 1_000 * DEPTH
RULES = Rules(KEY)


@dataclass
class Sent:
    """What is on the stream of one door, and the commits of its journal."""

    raw: list[bytes]
    batches: dict[int, Batch]


async def sent_by(path: Path, seed: int, key: bytes) -> Sent:
    base, stream = Base.begin(path, seed, key), MemoryStream()
    for _ in range(30):
        base.grow(base.seed.randint(1, 12))
        relay = Relay(path, stream.connect, "memory", lambda _: None, once=True, pause=no_pause)
        await relay.run()
        relay.close()
    batches = {n: base.writer.batch(n) for n in range(base.writer.last.batch + 1)}
    base.end()
    return Sent([one.data for one in stream.kept], {n: b for n, b in batches.items() if b})


def inside(raw: bytes, luck: random.Random) -> bytes:
    """One bit of what a message says, whether or not it is compressed."""
    head, body = raw[: wire.HEAD_BYTES], raw[wire.HEAD_BYTES :]
    packed = bool(head[4] & wire.COMPRESSED)
    plain = bytearray(zlib.decompress(body) if packed else body)
    plain[luck.randrange(len(plain))] ^= 1 << luck.randrange(8)
    return head + (zlib.compress(bytes(plain)) if packed else bytes(plain))


@pytest.mark.parametrize("seed", [7, 8])
async def test_nothing_of_a_stranger_is_taken(tmp_path: Path, seed: int) -> None:
    """Bits changed outside and inside, other keys, an older incident of the same key, rubbish."""
    luck = random.Random(seed)
    good = await sent_by(tmp_path / "a.journal", 1, KEY)
    others = [
        await sent_by(tmp_path / "b.journal", 2, b"z" * 32),
        await sent_by(tmp_path / "c.journal", 3, KEY),
    ]
    header = Joiner().take(good.raw[0])
    assert isinstance(header, HeaderMessage)
    begun = begin(header, INCIDENT, RULES)
    assert isinstance(begun, Begun)
    had, last = {0: begun.first}, begun.first
    judge = Judge(begun.proof, RULES, had.get)
    coming = iter(good.raw[1:])
    for number in range(MESSAGES):
        raw = luck.choice([
            inside(luck.choice(good.raw), luck), luck.choice(good.raw),
            luck.choice(luck.choice(others).raw), luck.randbytes(luck.randint(0, 200)),
        ])  # fmt: skip
        if number % (MESSAGES // len(good.raw)) == 0:
            raw = next(coming, raw)
        message = Joiner().take(raw)
        if not isinstance(message, CommitsMessage):
            continue
        taken = judge.take(last, message.commits)
        assert taken.cut_back is None
        for one in taken.sealed:
            assert one.batch == good.batches[one.batch.batch]
            had[one.batch.batch] = last = one.batch
    assert last == good.batches[max(good.batches)]
