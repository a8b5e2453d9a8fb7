"""A relay and a stream that fails: what is on it in the end is the journal, whole and in order."""

import asyncio
import random
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest

from monitor.errors import BadJournal
from monitor.incident.rows import RowKind
from monitor.relay import subjects, wire
from monitor.relay.relay import Relay
from monitor.relay.source import Source
from monitor.relay.wire import CommitsMessage, HeaderMessage, Joiner
from tests.monitor.relay.memory_stream import (
    INCIDENT,
    OPERATION,
    Base,
    MemoryStream,
    no_pause,
    row,
)

SUBJECT = subjects.of_commits(OPERATION, INCIDENT)


@pytest.fixture
def base(tmp_path: Path) -> Iterator[Base]:
    base = Base.begin(tmp_path / "a.journal", 1)
    yield base
    base.end()


def relay_of(base: Base, stream: MemoryStream, told: list[str] | None = None) -> Relay:
    tell = told.append if told is not None else lambda _: None
    return Relay(base.path, stream.connect, "memory", tell, once=True, pause=no_pause)


async def send(base: Base, stream: MemoryStream) -> None:
    relay = relay_of(base, stream)
    await relay.run()
    relay.close()


def commits_on(stream: MemoryStream) -> list[int]:
    """Numbers of the commits on the stream, in its order; 0 is the header."""
    joiner, found = Joiner(), []
    for one in stream.kept:
        assert one.subject == SUBJECT
        message = joiner.take(one.data)
        if isinstance(message, HeaderMessage):
            found.append(0)
        elif message is not None:
            assert isinstance(message, CommitsMessage)
            found += [commit.batch.batch for commit in message.commits]
    return found


async def test_every_commit_once_and_in_order(base: Base) -> None:
    base.grow(200)
    stream = MemoryStream()
    await send(base, stream)
    assert commits_on(stream) == list(range(base.writer.last.batch + 1))
    base.grow(50)
    await send(base, stream)
    assert commits_on(stream) == list(range(base.writer.last.batch + 1))
    before = len(stream.kept)
    await send(base, stream)
    assert len(stream.kept) == before


@pytest.mark.parametrize("seed", range(8))
async def test_connections_that_go_before_or_after_a_message_is_kept(base: Base, seed: int) -> None:
    luck = random.Random(seed)
    stream = MemoryStream(trouble=lambda: luck.choice(["before", "after", "", ""]))
    for _ in range(6):
        base.grow(luck.randint(1, 40))
        await send(base, stream)
    assert commits_on(stream) == list(range(base.writer.last.batch + 1))
    assert stream.connections > 6


@pytest.mark.parametrize("seed", range(4))
async def test_two_relays_of_one_journal_do_no_harm(base: Base, seed: int) -> None:
    stream = MemoryStream()
    luck = random.Random(seed)
    for _ in range(5):
        base.grow(luck.randint(1, 60))
        await asyncio.gather(send(base, stream), send(base, stream))
    found = commits_on(stream)
    assert found == list(range(base.writer.last.batch + 1))


async def test_a_stranger_on_the_subject_does_not_end_it(base: Base) -> None:
    """The last that is ours is looked for, and all behind it is sent anew."""
    base.grow(100)
    stream = MemoryStream()
    await send(base, stream)
    last = base.writer.last.batch
    for forged in (b"", b"x" * 60, stream.kept[-1].data[:-1]):
        stream.put(SUBJECT, forged)
    base.grow(20)
    await send(base, stream)
    ours = [one for one in stream.kept if isinstance(Joiner().take(one.data), CommitsMessage)]
    numbers = [wire.part_of(one.data) for one in ours]
    assert [(part.first, part.last) for part in numbers if isinstance(part, wire.Part)][-1] == (
        last + 1,
        last + 20,
    )


async def test_a_stranger_who_has_taken_the_name_of_a_message(base: Base) -> None:
    """The broker drops the second of a name: the relay looks whose the first is."""
    base.grow(30)
    stream = MemoryStream()
    name = f"{INCIDENT}-1-{base.writer.last.batch}-0"
    stream.put("outby.1.x.y.other", b"forged")
    stream.names[name] = 1
    relay = relay_of(base, stream)
    await relay.run()
    relay.close()
    stream.kept.pop(0)
    assert commits_on(stream) == list(range(base.writer.last.batch + 1))


async def test_a_commit_too_large_for_one_message_goes_in_parts(base: Base) -> None:
    base.t += 1_000_000
    noise = [base.seed.randbytes(200_000) for _ in range(8)]
    base.commit([row(base.t, data) for data in noise])
    base.grow(3)
    stream = MemoryStream()
    # The connection goes in the midst of its parts: it is begun again from the first.
    sent = iter(["", "", "before", *[""] * 99])
    stream.trouble = lambda: next(sent)
    await send(base, stream)
    joiner = Joiner()
    whole = [joiner.take(one.data) for one in stream.kept]
    taken = [one for one in whole if isinstance(one, CommitsMessage)]
    assert [c.batch.batch for one in taken for c in one.commits] == list(
        range(1, base.writer.last.batch + 1)
    )
    assert max(len(one.data) for one in stream.kept) < 1024 * 1024


async def test_it_ends_once_the_incident_is_closed(base: Base) -> None:
    stream, told = MemoryStream(), list[str]()
    relay = Relay(base.path, stream.connect, "memory", told.append, pause=_yield)
    work = asyncio.create_task(relay.run())
    for _ in range(5):
        base.grow(5)
        await _Turn()
    assert not work.done()
    base.close_incident()
    base.t += 1
    base.commit([row(base.t, b"{}", RowKind.FACT)])
    await asyncio.wait_for(work, 30)
    relay.close()
    assert commits_on(stream) == list(range(base.writer.last.batch + 1))
    assert told == ["sending to memory behind commit 0", "all of it is on the stream"]


class _Turn:
    """Lets everything else that is ready go on."""

    def __await__(self) -> Generator[None, None, None]:
        yield


async def _yield(_seconds: float) -> None:
    await _Turn()


def test_a_journal_that_is_none_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(BadJournal):
        Relay(tmp_path / "none.journal", MemoryStream().connect, "memory", print)


def test_what_a_source_tells(base: Base) -> None:
    with Source(base.path) as source:
        assert source.operation() == "Kiln works"
        assert not source.is_closed()
        assert source.changed()
        assert not source.changed()
        base.close_incident()
        assert source.changed()
        assert source.is_closed()
