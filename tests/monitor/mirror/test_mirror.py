"""A mirror and a stream in memory: the replica is the journal, whatever else is on the stream."""

import asyncio
import random
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.errors import BadJournal, Busy
from monitor.incident.rows import RowKind
from monitor.journal.lock import is_free
from monitor.journal.verify import examine
from monitor.mirror import beside
from monitor.mirror.mirror import Mirror
from monitor.mirror.replica import Replica, named
from monitor.mirror.taking import Rules
from monitor.relay import subjects
from monitor.relay.relay import Relay
from tests.monitor.relay.memory_stream import (
    INCIDENT,
    KEY,
    OPERATION,
    Base,
    MemoryStream,
    contents,
    no_pause,
    row,
)

SUBJECT = subjects.of_commits(OPERATION, INCIDENT)
RULES = Rules(KEY)


@pytest.fixture
def base(tmp_path: Path) -> Iterator[Base]:
    base = Base.begin(tmp_path / "door" / "a.journal", 1, KEY)
    yield base
    base.end()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "replicas"


@pytest.fixture
def replica(folder: Path) -> Path:
    return named(folder, "Kiln_20works", INCIDENT)


def files_in(replica: Path) -> list[Path]:
    folder = replica.parent
    return sorted(folder.iterdir()) if folder.exists() else []


async def send(base: Base, stream: MemoryStream) -> None:
    relay = Relay(base.path, stream.connect, "memory", lambda _: None, once=True, pause=no_pause)
    await relay.run()
    relay.close()


async def mirror(folder: Path, stream: MemoryStream, rules: Rules = RULES) -> list[str]:
    told: list[str] = []
    one = Mirror(
        folder, stream.connect, "memory", told.append, rules=rules, once=True, pause=no_pause
    )
    await one.run()
    return told


async def test_a_replica_is_the_journal(base: Base, folder: Path, replica: Path) -> None:
    stream = MemoryStream()
    for commits in (1, 100, 0, 33):
        base.grow(commits)
        await send(base, stream)
        await mirror(folder, stream)
        assert contents(replica) == contents(base.path)
    assert examine(replica, KEY).fault is None
    assert examine(replica, KEY).last == base.writer.last
    said = beside.read(replica)
    assert said is not None
    assert (said.operation, said.proof, said.fault, said.refused) == (OPERATION, "keyed", "", 0)
    assert is_free(replica)
    assert {stat.S_IMODE(path.lstat().st_mode) for path in files_in(replica)} == {0o600}


async def test_only_what_is_new_is_asked_for(base: Base, folder: Path) -> None:
    stream = MemoryStream()
    base.grow(500)
    await send(base, stream)
    await mirror(folder, stream)
    base.grow(10)
    await send(base, stream)
    stream.acknowledged.clear()
    await mirror(folder, stream)
    assert stream.acknowledged == [len(stream.kept)]


@pytest.mark.parametrize("seed", range(6))
async def test_forged_altered_repeated_shuffled_and_foreign_messages(
    base: Base, folder: Path, replica: Path, tmp_path: Path, seed: int
) -> None:
    luck = random.Random(seed)
    stream, other = MemoryStream(), Base.begin(tmp_path / "other.journal", 9, b"k" * 32)
    elsewhere = MemoryStream()
    other.grow(50)
    await send(other, elsewhere)
    for _ in range(5):
        base.grow(luck.randint(1, 20))
        await send(base, stream)
    good = list(stream.kept)
    for _ in range(100):
        raw = bytearray(luck.choice(good).data)
        raw[luck.randrange(len(raw))] ^= 1 << luck.randrange(8)
        forged = luck.choice([bytes(raw), luck.choice(good).data, luck.choice(elsewhere.kept).data,
                              luck.randbytes(luck.randint(0, 90))])  # fmt: skip
        stream.kept.insert(luck.randint(0, len(stream.kept)), type(good[0])(SUBJECT, forged))
    await mirror(folder, stream)
    assert contents(replica) == contents(base.path)
    other.end()


async def test_a_gap_is_told_and_asked_for_again(base: Base, folder: Path, replica: Path) -> None:
    stream = MemoryStream()
    for _ in range(4):
        base.grow(20)
        await send(base, stream)
    lost = stream.kept.pop(3)
    told = await mirror(folder, stream)
    assert any("NOT TO BE TRUSTED: commit" in line for line in told)
    said = beside.read(replica)
    assert said is not None
    assert said.fault.endswith("commits before it are missing")
    assert contents(replica) != contents(base.path)
    # Whoever has them puts them there once more, at the end.
    later = stream.kept[3:]
    stream.kept += [lost, *later]
    await mirror(folder, stream)
    assert contents(replica) == contents(base.path)
    said = beside.read(replica)
    assert said is not None
    assert said.fault == ""


async def test_a_door_that_lost_its_newest_rows(base: Base, folder: Path, replica: Path) -> None:
    stream = MemoryStream()
    base.grow(50)
    await send(base, stream)
    await mirror(folder, stream)
    before = contents(replica)
    kept = base.writer.batch(40)
    assert kept is not None
    base.writer.cut_back(kept)
    base.writer.sealer.last = kept
    base.session()
    base.t += 10**9
    base.grow(30)
    await send(base, stream)
    await mirror(folder, stream)
    assert contents(replica) == contents(base.path)
    said = beside.read(replica)
    assert said is not None
    assert said.cut_back == 1
    aside = replica.with_name(f"{INCIDENT}.before-1.journal")
    assert contents(aside) == before
    assert beside.is_replica(aside)
    # And the same for whoever mirrors all of it anew.
    again = folder.with_name("again")
    await mirror(again, stream)
    assert contents(named(again, "Kiln_20works", INCIDENT)) == contents(base.path)


async def test_a_journal_of_another_key_is_taken_only_unproved(
    base: Base, folder: Path, replica: Path
) -> None:
    base.grow(5)
    stream = MemoryStream()
    await send(base, stream)
    for rules in (Rules(), Rules(b"other")):
        told = await mirror(folder, stream, rules)
        assert f"{INCIDENT}: NOT TO BE TRUSTED: it is not made with this mirror's key" in told
        assert files_in(replica) == []
    await mirror(folder, stream, Rules(unproved=True))
    assert contents(replica) == contents(base.path)
    said = beside.read(replica)
    assert said is not None
    assert said.proof == "unproved"


async def test_a_closed_incident_is_one_plain_file(base: Base, folder: Path, replica: Path) -> None:
    stream = MemoryStream()
    base.grow(5)
    base.close_incident()
    base.t += 1
    base.commit([row(base.t, b"{}", RowKind.FACT)])
    await send(base, stream)
    await mirror(folder, stream)
    assert contents(replica) == contents(base.path)
    beside_it = [path.name for path in files_in(replica)]
    assert beside_it == [replica.name, f"{replica.name}.mirror"]


async def test_one_mirror_writes_a_replica(base: Base, folder: Path, replica: Path) -> None:
    stream = MemoryStream()
    base.grow(5)
    await send(base, stream)
    await mirror(folder, stream)
    held = Replica.open(replica, OPERATION, RULES)
    with pytest.raises(Busy):
        Replica.open(replica, OPERATION, RULES)
    held.close()
    with pytest.raises(BadJournal, match="key"):
        Replica.open(replica, OPERATION, Rules(b"other"))
    assert is_free(replica)


async def test_several_incidents_side_by_side(tmp_path: Path, folder: Path) -> None:
    stream = MemoryStream()
    bases = [Base.begin(tmp_path / f"{n}.journal", n, incident=f"{n:032x}") for n in range(1, 4)]
    for base in bases:
        base.grow(20)
    await asyncio.gather(*(send(base, stream) for base in bases))
    # A stranger's subject, and one that is none, hold up nobody.
    stream.put(subjects.of_commits(OPERATION, "f" * 32), b"rubbish")
    stream.put("outby.1.x.y.commits", b"rubbish")
    await mirror(folder, stream, Rules())
    for base, n in zip(bases, range(1, 4), strict=True):
        assert contents(named(folder, "Kiln_20works", f"{n:032x}")) == contents(base.path)
        base.end()


async def test_an_operation_whose_name_is_long_in_bytes(
    base: Base, folder: Path, tmp_path: Path
) -> None:
    """60 letters of 3 bytes are 540 characters of a subject: no file system takes such a name."""
    stream, elsewhere = MemoryStream(), MemoryStream()
    base.grow(3)
    await send(base, elsewhere)
    word = subjects.word("\N{OGHAM LETTER BEITH}" * 60)
    assert len(word) == 540
    for one in elsewhere.kept:
        stream.put(f"outby.1.{word}.{INCIDENT}.commits", one.data)
    await mirror(folder, stream)
    replica = named(folder, word, INCIDENT)
    assert len(replica.parent.name) < 255
    assert contents(replica) == contents(base.path)
    assert named(folder, word[:-1] + "b", INCIDENT) != replica
