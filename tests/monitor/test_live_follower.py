"""A screen's follower: whichever file brings a row first, the incident is the same."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from monitor.clock import Clock, Stamp
from monitor.errors import BadJournal
from monitor.follower import Follower
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import (
    Act,
    ComeOut,
    Connect,
    DiskState,
    Enter,
    Fact,
    JoinPack,
    LinkState,
    ListWearer,
    Opened,
    SpokenReading,
    Stall,
)
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture
from monitor.incident.rows import Row, RowKind
from monitor.incident.second_place import SecondPlace
from monitor.journal.reader import JournalReader, Slice
from monitor.journal.schema import Header
from monitor.journal.sealing import Sealed
from monitor.journal.writer import JournalWriter
from monitor.live_follower import LiveFollower
from monitor.procedures import load
from protocol.codec import encode
from protocol.packets import CheckResult, Kind, Motion, Report
from tests.depth import seeds

S = 1_000_000_000
WAIT_S = 10.0


def frame(rng: Random, pack: int, sequence: int) -> bytes:
    report = Report(
        kind=Kind.STATUS, identity=pack, boot=1, sequence=sequence, epoch=0, keyed=False,
        pressure_dbar=rng.randrange(300, 3_000), gas_temperature_c=20, battery_percent=90,
        motion=rng.choice([Motion.MOVING, Motion.STILL]), distress=rng.random() < 0.05,
        low_air=False, coming_out=False, self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.PASSED, interval_s=5,
        uptime_ms=1_000 * sequence, order_received=0, order_acknowledged=0, beacon_heard=0,
    )  # fmt: skip
    return encode(report, None)


@dataclass
class Recorded:
    """A journal and its spill, batches that go into either, and the picture at each horizon."""

    journal: JournalWriter
    spill_path: Path
    rng: Random
    batches: list[Sealed] = field(default_factory=list)
    pictures: dict[int, Picture] = field(default_factory=dict)
    incident: Incident = field(default_factory=Incident)
    horizon: int = 0
    spilt: int = 0
    """Horizon of the spill."""

    def make(self, rows: list[Row], horizon: int) -> None:
        for row in rows:
            event = event_of(row)
            assert event is not None
            self.incident.apply(event)
        self.incident.advance(horizon)
        self.horizon = horizon
        self.pictures[horizon] = self.incident.picture()
        self.batches.append(self.journal.sealer.seal(rows, horizon, Stamp(horizon, horizon)))

    def step(self) -> None:
        """Some seconds of an incident."""
        rng, to = self.rng, self.horizon + self.rng.choice([S // 20, S, 7 * S])
        times = sorted(rng.randrange(self.horizon + 1, to + 1) for _ in range(rng.randrange(5)))
        rows = []
        for n, t in enumerate(times):
            act = self._act(len(self.batches) * 10 + n)
            if rng.random() < 0.7:
                pack = rng.randrange(101, 104)
                data = frame(rng, pack, len(self.batches) * 10 + n)
                rows.append(Row(t, RowKind.FRAME, data, 1))
            else:
                rows.append(row_of(t, act))
        self.make(rows, to)

    def _act(self, number: int) -> Act | Fact:
        wearer = self.rng.randrange(1, 4)
        names = {"id": f"act-{number:06}", "by": "R. Harrow", "wearers": (wearer,)}
        choices: list[Act | Fact] = [
            Connect.model_validate({**names, "pressure_bar": 290}),
            Enter.model_validate(names),
            SpokenReading.model_validate({**names, "pressure_bar": self.rng.randrange(40, 290)}),
            ComeOut.model_validate(names),
            Stall(from_ns=max(0, self.horizon - S), to_ns=self.horizon),
            LinkState(link=1, name="udp", up=self.rng.random() < 0.7),
        ]
        return self.rng.choice(choices)

    def to_journal(self, count: int) -> None:
        """The disk takes so many of what waits."""
        some = [b for b in self.batches if b.batch.batch > self.journal.last.batch][:count]
        if some:
            self.journal.write(some)

    def to_spill(self) -> None:
        """Everything that the journal has not goes into the spill."""
        base = next(b for b in self.batches if b.batch.batch > self.journal.last.batch)
        made = JournalWriter.follow(
            self.spill_path, self.journal, base.before, self.journal.sessions()
        )
        made.write([b for b in self.batches if b.batch.batch > base.before.batch])
        made.close(final=False)
        self.spilt = self.horizon


@pytest.fixture
def recorded(tmp_path: Path) -> Iterator[Callable[[int], Recorded]]:
    made: list[JournalWriter] = []

    def make(seed: int) -> Recorded:
        opened = Opened(
            incident="0" * 32, name="Kiln Lane", officer="R. Harrow", use="exercise",
            procedure=load("plain"), keyed=False, base=1, wall_ns=1_700_000_000 * S,
            software="outby test", fold=1,
        )  # fmt: skip
        header = Header(
            fold=1, software="outby test", incident=opened.incident, use="exercise",
            opened_wall_ns=opened.wall_ns,
        )  # fmt: skip
        journal = JournalWriter.create(tmp_path / f"{seed}.journal", header)
        made.append(journal)
        journal.begin_session("boot one", 0, opened.wall_ns, "outby test")
        one = Recorded(journal, tmp_path / f"{seed}.spill", Random(seed))
        acts: list[Act | Fact] = [opened, SecondPlace(state="ready", path=str(one.spill_path))]
        for number in range(1, 4):
            names = {"by": "R. Harrow", "wearer": number}
            acts += [
                ListWearer.model_validate(
                    {**names, "id": f"list-{number:04}", "name": f"W{number}"}
                ),
                JoinPack.model_validate({**names, "id": f"join-{number:04}", "pack": 100 + number}),
            ]
        one.make([row_of(0, act) for act in acts], 0)
        one.to_journal(1)
        return one

    yield make
    for journal in made:
        journal.close(final=False)


@pytest.fixture
def live() -> Iterator[Callable[[Path], LiveFollower]]:
    made: list[LiveFollower] = []

    def follow(path: Path) -> LiveFollower:
        made.append(LiveFollower(Follower(path), Clock()))
        return made[-1]

    yield follow
    for one in made:
        one.close()
        for thread in (one._journal, *one._spills.values()):
            if thread is not None:
                thread._thread.join(WAIT_S)


def wait_for(follower: LiveFollower, horizon: int, check: Callable[[], None]) -> None:
    for _ in range(1_000):
        follower.poll()
        check()
        if follower.horizon >= horizon:
            return
        threading.Event().wait(0.01)
    pytest.fail(f"horizon {follower.horizon}, not {horizon}")


@pytest.mark.parametrize("seed", seeds(3))
def test_from_both_files_it_is_what_the_journal_alone_shows(
    seed: int, recorded: Callable[[int], Recorded], live: Callable[[Path], LiveFollower]
) -> None:
    """Threads, files and a disk that takes some now and then; compared at every horizon seen."""
    one = recorded(seed)
    follower = live(one.journal.path)
    compared = 0

    def check() -> None:
        nonlocal compared
        if follower.horizon in one.pictures:
            compared += 1
            assert follower.picture() == one.pictures[follower.horizon]

    for _ in range(12):
        for _ in range(one.rng.randrange(1, 4)):
            one.step()
        if one.rng.random() < 0.6:
            one.to_spill()
        else:
            one.to_journal(one.rng.randrange(1, 4))
        if one.rng.random() < 0.5:
            wait_for(follower, max(one.journal.last.horizon, one.spilt), check)
    one.to_journal(len(one.batches))
    wait_for(follower, one.horizon, check)
    assert compared > 5
    assert follower.picture() == one.pictures[one.horizon]


@pytest.mark.parametrize("seed", seeds(50))
def test_any_interleaving_of_steps_folds_each_row_once_and_in_order(
    seed: int, recorded: Callable[[int], Recorded]
) -> None:
    """Pure of threads: steps of both files, cut anywhere, repeated, late, given in any order."""
    rng, one = Random(seed), recorded(seed)
    for _ in range(15):
        one.step()
    rows: list[Row] = []
    for batch in one.batches:
        columns = zip(batch.rows.t, batch.rows.kind, batch.rows.data, strict=True)
        rows += [Row(t, RowKind(kind & 15), data, 1) for t, kind, data in columns]
    follower = Follower(one.journal.path)
    folded = 0
    while follower.horizon < one.horizon:
        folded += 1
        assert folded < 10_000
        batch = rng.choice(one.batches)
        last = batch.batch.last_row
        after = max(0, follower.last_row + rng.randrange(-6, 2))
        if rng.random() < 0.5 and after < last:
            # A step that ends inside: its horizon is just before its last row.
            cut = rng.randrange(after + 1, last + 1)
            step = Slice(rows[after:cut], cut, rows[cut - 1].t - 1, complete=False)
        elif after <= last:
            step = Slice(rows[after:last], last, batch.batch.horizon, complete=True)
        else:
            step = Slice([], after, batch.batch.horizon, complete=True)
        if step.last_row > follower.last_row + len(step.rows):
            assert not follower.fold(step), "rows are missing before it"
        else:
            follower.fold(step)
        if follower.horizon in one.pictures and step.complete:
            assert follower.picture() == one.pictures[follower.horizon]
    assert follower.picture() == one.pictures[one.horizon]
    follower.close()


def test_a_journal_that_came_to_hold_other_rows_is_folded_anew(
    recorded: Callable[[int], Recorded], live: Callable[[Path], LiveFollower]
) -> None:
    """The spill was lost with its memory before it was merged, and a recorder went on without."""
    one = recorded(1)
    for _ in range(8):
        one.step()
    one.to_spill()
    follower = live(one.journal.path)
    wait_for(follower, one.horizon, lambda: None)
    one.spill_path.unlink()
    journal, other = one.journal, recorded(2)
    journal.sealer.last, one.batches = journal.last, one.batches[:1]
    one.incident, one.pictures = Incident(), {}
    with JournalReader(journal.path) as reader:
        for row in reader.read(0).rows:
            event = event_of(row)
            assert event is not None
            one.incident.apply(event)
    one.horizon, one.rng = 0, other.rng
    for _ in range(20):
        one.step()
    one.to_journal(len(one.batches))
    for _ in range(1_000):
        follower.poll()
        if follower.horizon == one.horizon and follower.picture() == one.pictures[one.horizon]:
            return
        threading.Event().wait(0.01)
    pytest.fail("it still shows what was lost")


def test_after_a_journal_was_lost_it_is_read_again_once_the_next_recorder_has_it_all(
    recorded: Callable[[int], Recorded], live: Callable[[Path], LiveFollower]
) -> None:
    """The last that a board heard was that the journal is gone; the spill is merged and away."""
    one = recorded(4)
    follower = live(one.journal.path)
    wait_for(follower, one.horizon, lambda: None)
    gone = DiskState(state="gone", detail="the log has been deleted")
    one.make([row_of(one.horizon + S, gone)], one.horizon + S)
    one.to_spill()
    wait_for(follower, one.horizon, lambda: None)
    assert follower.incident.journal_gone

    one.to_journal(len(one.batches))
    one.spill_path.unlink()
    one.make([row_of(one.horizon + S, DiskState(state="ok"))], one.horizon + S)
    one.to_journal(1)
    wait_for(follower, one.horizon, lambda: None)
    assert follower.picture() == one.pictures[one.horizon]


class Hung(JournalReader):
    """Its disk hangs until it is let go."""

    let_go: threading.Event

    def changed(self) -> bool:
        self.let_go.wait(WAIT_S)
        return super().changed()


def test_a_disk_that_hangs_is_told_only_while_nothing_else_has_what_is_new(
    recorded: Callable[[int], Recorded], live: Callable[[Path], LiveFollower]
) -> None:
    one = recorded(3)
    given = Follower(one.journal.path)
    given.poll()
    given._reader.__class__ = Hung
    given._reader.let_go = threading.Event()  # type: ignore[attr-defined]
    follower = LiveFollower(given, Clock())
    for _ in range(1_000):
        try:
            follower.poll()
        except BadJournal as error:
            assert "disk does not answer" in str(error)  # noqa: PT017 - it must come, sooner or later
            break
        threading.Event().wait(0.01)
    else:
        pytest.fail("nothing was said of the disk")
    one.step()
    one.step()
    one.to_spill()
    for _ in range(1_000):
        try:
            follower.poll()
        except BadJournal:
            threading.Event().wait(0.01)
        if follower.horizon == one.horizon:
            break
    assert follower.picture() == one.pictures[one.horizon]
    given._reader.let_go.set()  # type: ignore[attr-defined]
    follower.close()
    follower._journal._thread.join(WAIT_S)
