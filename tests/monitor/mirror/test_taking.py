"""Which commits a replica takes: the next by number, place and digest, and nothing else."""

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.commits import commits
from monitor.journal.schema import Batch, Session
from monitor.journal.sealing import Sealed
from monitor.mirror.taking import (
    CUT_BACK_NS_MAX,
    Begun,
    Judge,
    Proof,
    Rules,
    Why,
    begin,
    follows,
    proof_of,
)
from monitor.relay.source import Source
from monitor.relay.wire import Commit, HeaderMessage
from tests.monitor.relay.memory_stream import INCIDENT, KEY, Base


def commits_of(path: Path) -> list[Sealed]:
    connection = files.connect(path, "ro")
    first, last = files.batch(connection, 0), files.last_batch(connection)
    assert first is not None
    assert last is not None
    found = list(commits(connection, first, last))
    connection.close()
    return found


def message_of(path: Path) -> HeaderMessage:
    with Source(path) as source:
        first = source.batch(0)
        assert first is not None
        return HeaderMessage(source.stored, first.digest)


@pytest.fixture(params=["open", "keyed"])
def base(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Base]:
    base = Base.begin(tmp_path / "a.journal", 3, KEY if request.param == "keyed" else b"")
    base.grow(40)
    base.session()
    base.grow(40)
    yield base
    base.end()


class Kept:
    """A replica's commits, in memory."""

    def __init__(self, begun: Begun, rules: Rules) -> None:
        self.batches = {0: begun.first}
        self.last = begun.first
        self.judge = Judge(begun.proof, rules, self.batches.get)

    def take(self, *given: Commit) -> Why | None:
        taken = self.judge.take(self.last, given)
        if taken.cut_back is not None:
            self.batches = {n: b for n, b in self.batches.items() if n <= taken.cut_back.batch}
            self.judge = Judge(self.judge.proof, self.judge.rules, self.batches.get)
            self.last = taken.cut_back
        for one in taken.sealed:
            assert one.before == self.last
            self.last = self.batches[one.batch.batch] = one.batch
        return taken.why


def kept_of(base: Base, *, unproved: bool = False) -> Kept:
    rules = Rules(base.writer.key, unproved=unproved)
    begun = begin(message_of(base.path), INCIDENT, rules)
    assert isinstance(begun, Begun)
    return Kept(begun, rules)


def as_commit(one: Sealed) -> Commit:
    return Commit(one.batch, one.rows, one.new)


def test_a_journal_commit_by_commit(base: Base) -> None:
    kept = kept_of(base)
    for one in commits_of(base.path):
        assert kept.take(as_commit(one)) is None
        assert kept.last == one.batch


def test_what_came_twice_is_passed_over_and_a_gap_is_told(base: Base) -> None:
    found = [as_commit(one) for one in commits_of(base.path)]
    kept = kept_of(base)
    assert kept.take(*found[:10]) is None
    assert kept.take(*found[5:15]) is None
    assert kept.take(*found[20:]) is Why.MISSING
    assert kept.last == found[14].batch


@pytest.mark.parametrize("seed", range(30))
def test_nothing_changed_is_ever_taken(base: Base, seed: int) -> None:
    """Any field of a commit, by whoever has not the key; of an open one, whoever leaves it so."""
    luck = random.Random(seed)
    found = [as_commit(one) for one in commits_of(base.path)]
    at = luck.randrange(len(found))
    kept = kept_of(base)
    assert kept.take(*found[:at]) is None
    for _ in range(30):
        forged = altered(found[at], luck)
        if forged == found[at]:
            continue
        assert kept.take(forged) is not None
        assert kept.last.batch == at
    assert kept.take(*found[at:]) is None
    assert kept.last == found[-1].batch


def altered(one: Commit, luck: random.Random) -> Commit:
    batch, rows, new = one
    what = luck.randrange(5)
    if what == 0:
        name = luck.choice(Batch._fields[:-1])
        other = getattr(batch, name) + luck.choice((-1, 1))
        return one._replace(batch=batch._replace(**{name: other}))
    if what == 1 or not rows.t:
        return one._replace(batch=batch._replace(digest=luck.randbytes(16)))
    if what == 2:
        data = list(rows.data)
        data[luck.randrange(len(data))] = luck.randbytes(30)
        return one._replace(rows=rows._replace(data=data))
    if what == 3:
        name = luck.choice(("t", "kind", "link", "late_ns"))
        column = list(getattr(rows, name))
        column[luck.randrange(len(column))] += 1
        return one._replace(rows=rows._replace(**{name: column}))
    session = Session(batch.session, "other", 0, 0, "") if new is None else None
    return one._replace(new=session)


def test_a_digest_made_again_without_the_key_is_refused(tmp_path: Path) -> None:
    base = Base.begin(tmp_path / "a.journal", 3, KEY)
    base.grow(5)
    found = [as_commit(one) for one in commits_of(base.path)]
    kept = kept_of(base)
    assert kept.take(*found[:3]) is None
    batch, rows, new = found[3]
    forged = batch._replace(wall_ns=batch.wall_ns + 1)
    made = digest.of_batch(found[2].batch, forged, rows, new, b"")
    assert kept.take(Commit(forged._replace(digest=made), rows, new)) is Why.DIGEST
    base.end()


def test_a_recorder_without_its_key_is_taken_only_where_that_was_said(tmp_path: Path) -> None:
    base = Base.begin(tmp_path / "a.journal", 3, KEY)
    base.writer.sealer.key = b""
    base.session()
    base.grow(5)
    found = [as_commit(one) for one in commits_of(base.path)]
    assert kept_of(base).take(*found) is Why.DIGEST
    assert kept_of(base, unproved=True).take(*found) is None
    base.end()


def test_a_door_that_lost_its_newest_rows_is_followed(base: Base, tmp_path: Path) -> None:
    """As after a loss of power: the same journal to commit 60, then other rows, by the same key."""
    found = [as_commit(one) for one in commits_of(base.path)]
    kept = kept_of(base)
    assert kept.take(*found) is None
    base.writer.cut_back(found[60].batch)
    base.writer.sealer.last = base.writer.last
    base.session()
    base.t += 10**9
    base.grow(3)
    other = [as_commit(one) for one in commits_of(base.path)]
    assert other[60] == found[60]
    assert other[61] != found[61]
    assert kept.take(*other[61:]) is None
    assert kept.last == other[-1].batch


def test_another_history_from_far_back_is_not(base: Base) -> None:
    base.grow(300)
    found = [as_commit(one) for one in commits_of(base.path)]
    kept = kept_of(base)
    assert kept.take(*found) is None
    assert kept.last.horizon - found[20].batch.horizon > CUT_BACK_NS_MAX
    base.writer.cut_back(found[20].batch)
    base.writer.sealer.last = base.writer.last
    base.session()
    base.grow(3)
    other = [as_commit(one) for one in commits_of(base.path)]
    assert kept.take(*other[21:]) is Why.OTHER
    assert kept.last == found[-1].batch


def test_headers(base: Base) -> None:
    message = message_of(base.path)
    rules = Rules(base.writer.key)
    assert isinstance(begin(message, INCIDENT, rules), Begun)
    assert begin(message, "f" * 32, rules) is Why.FOREIGN
    changed = dict(message.stored) | {"use": "real"}
    assert begin(HeaderMessage(changed, message.digest), INCIDENT, rules) is Why.DIGEST
    newer = dict(message.stored) | {"format": "99"}
    assert begin(HeaderMessage(newer, message.digest), INCIDENT, rules) is Why.NEWER
    assert begin(HeaderMessage({}, message.digest), INCIDENT, rules) is Why.HEADER


def test_what_a_digest_can_show(base: Base) -> None:
    with Source(base.path) as source:
        header = source.header
    keyed = header.digest == "keyed"
    assert proof_of(header, Rules(base.writer.key)) is (Proof.KEYED if keyed else Proof.OPEN)
    assert proof_of(header, Rules(b"another")) is Why.KEY
    assert proof_of(header, Rules(b"another", unproved=True)) is (
        Proof.UNPROVED if keyed else Proof.OPEN
    )
    assert proof_of(header, Rules()) is (Why.KEY if keyed else Proof.OPEN)


@given(st.lists(st.integers(0, 50), max_size=6), st.integers(0, 60), st.integers(0, 60))
def test_where_rows_must_lie(t: list[int], before: int, horizon: int) -> None:
    n = len(t)
    rows = digest.Columns(t, [1] * n, [0] * n, [0] * n, [None] * n, [b""] * n)
    last = Batch(4, 1, 10, before, 0, 0, b"")
    one = Commit(Batch(5, 1, 10 + n, horizon, 0, 0, b""), rows, None)
    lies = horizon >= before and t == sorted(t) and all(before < at <= horizon for at in t)
    assert follows(last, one) == lies
