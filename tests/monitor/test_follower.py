"""Readers of one journal: they never differ, never run ahead, never lose their way."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.follower import Follower
from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import (
    Acknowledge,
    Act,
    Close,
    ComeOut,
    Connect,
    Enter,
    Fact,
    JoinPack,
    LinkState,
    ListWearer,
    OffAir,
    Opened,
    Resumed,
    SpokenReading,
    Stall,
)
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture, Signal
from monitor.incident.procedure import Procedure
from monitor.incident.rows import Row, RowKind, Standing
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from protocol.codec import encode
from protocol.packets import CheckResult, Kind, Motion, Report
from tests.depth import seeds

S = 1_000_000_000
OPENED = Opened(
    incident="0" * 32,
    name="Kiln Lane",
    officer="R. Harrow",
    use="exercise",
    procedure=Procedure(
        name="plain",
        title="Plain",
        low_air_fraction=0.35,
        silence_limit_s=90,
        pre_alarm_silence_s=15,
        gas_temperature_c=40,
        projection_rate_l_min=60,
        spoken_reading_valid_s=300,
    ),
    keyed=False,
    base=1,
    wall_ns=1_700_000_000_000_000_000,
    software="outby test",
    fold=1,
)


def _frame(pack: int, sequence: int, rng: Random, interval_s: int | None = None) -> bytes:
    report = Report(
        kind=Kind.STATUS,
        identity=pack,
        boot=1,
        sequence=sequence,
        epoch=0,
        keyed=False,
        pressure_dbar=rng.randrange(300, 3_000),
        gas_temperature_c=20,
        battery_percent=90,
        motion=rng.choice([Motion.MOVING, Motion.MOVING, Motion.STILL, Motion.PRE_ALARM]),
        distress=rng.random() < 0.02,
        low_air=False,
        coming_out=False,
        self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED,
        interval_s=interval_s or rng.choice([1, 5]),
        uptime_ms=1_000 * sequence,
        order_received=0,
        order_acknowledged=0,
        beacon_heard=0,
    )
    return encode(report, None)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kiln-lane.outby"


@pytest.fixture
def writer(path: Path) -> Iterator[JournalWriter]:
    header = Header(
        fold=1,
        software="outby test",
        incident=OPENED.incident,
        use="exercise",
        opened_wall_ns=OPENED.wall_ns,
    )
    made = JournalWriter.create(path, header)
    made.begin_session("boot one", 0, OPENED.wall_ns, "outby test")
    yield made
    made.close(final=False)


@pytest.fixture
def follow(path: Path) -> Iterator[Callable[[], Follower]]:
    with ExitStack() as stack:
        yield lambda: stack.enter_context(Follower(path))


def _act(rng: Random, number: int) -> Act | Fact:
    wearer = rng.randrange(1, 6)
    names = {"id": f"act-{number:06}", "by": "R. Harrow"}
    acts: list[Act] = [
        Connect(**names, wearers=(wearer,), pressure_bar=290),
        Enter(**names, wearers=(wearer,), location="kiln 2"),
        SpokenReading(**names, wearers=(wearer,), pressure_bar=rng.randrange(40, 290)),
        ComeOut(**names, wearers=(wearer,)),
        OffAir(**names, wearers=(wearer,)),
        Acknowledge(**names, alarms=(rng.randrange(1, 20),)),
    ]
    return rng.choice(acts)


def _batch(rng: Random, horizon: int, serial: int) -> tuple[list[Row], int]:
    """Some seconds of an incident: frames, acts, stalls, or nothing but a new horizon."""
    to = horizon + rng.choice([S // 20, S, 7 * S, 40 * S])
    rows = []
    times = sorted(rng.randrange(horizon + 1, to + 1) for _ in range(rng.randrange(6)))
    for n, t in enumerate(times):
        chance = rng.random()
        if chance < 0.75:
            standing = Standing.LIVE if rng.random() < 0.9 else Standing.NOT_PROVEN
            pack = rng.randrange(101, 107)
            frame = _frame(pack, serial + n + 1, rng)
            rows.append(Row(t, RowKind.FRAME, frame, 1, standing=standing))
        elif chance < 0.94:
            rows.append(row_of(t, _act(rng, serial + n)))
        elif chance < 0.97:
            rows.append(row_of(t, Stall(from_ns=max(0, t - S), to_ns=t)))
        else:
            rows.append(row_of(t, LinkState(link=1, name="udp", up=rng.random() < 0.7)))
    return rows, to


def _opening() -> list[Row]:
    acts: list[Act | Fact] = [OPENED]
    for n in range(1, 6):
        names = {"id": f"open-{n:04}", "by": "R. Harrow", "wearer": n}
        acts.append(ListWearer(**names, name=f"Wearer {n}", crew="Alpha 1"))
        acts.append(
            JoinPack(
                **{**names, "id": f"join-{n:04}"},
                pack=100 + n,
                water_volume_l=6.8,
                rated_bar=300,
            )
        )
    return [row_of(0, act) for act in acts]


@dataclass
class Reader:
    """Somebody who folds a journal, and every alarm that they have heard."""

    incident: Incident
    heard: list[Announcement] = field(default_factory=list)

    def listen(self) -> None:
        self.heard += self.incident.take_announcements()


@pytest.mark.parametrize("seed", seeds(4))
def test_the_recorder_two_boards_and_a_report_hear_the_same_alarms_at_the_same_ns(
    seed: int, writer: JournalWriter, follow: Callable[[], Follower]
) -> None:
    """The recorder folds each row as it is made, a board what is new, a report all at the end."""
    rng = Random(1_000 + seed)
    recorder, steady, fitful, last = Reader(Incident()), follow(), follow(), follow()
    boards = [Reader(board.incident) for board in (steady, fitful)]
    rows, horizon, serial = _opening(), 0, 0
    for n in range(150):
        for row in rows:
            event = event_of(row)
            assert event is not None
            recorder.incident.apply(event)
        recorder.incident.advance(horizon)
        recorder.listen()
        writer.commit(rows, horizon, Stamp(horizon, horizon))
        while steady.poll(1_000):
            boards[0].listen()
        if rng.random() < 0.2:
            fitful.poll(rng.choice([1, 3, 8, 100]))
            boards[1].incident.picture()
            boards[1].listen()
        rows, horizon = _batch(rng, horizon, serial)
        serial += len(rows)
        if n % 50 == 25:
            resumed = Resumed(down_ns=30 * S, known_by="boot clock", wall_ns=OPENED.wall_ns)
            rows, horizon = [*rows, row_of(horizon + 1, resumed)], horizon + 1
    report = Reader(last.incident)
    for reader in (fitful, last):
        while reader.poll(1_000):
            pass
    for listener in (*boards, report):
        listener.listen()
        assert listener.heard == recorder.heard
    kinds = {said.kind for said in recorder.heard}
    assert {"no_signal", "receiver_down"} <= kinds
    assert len(recorder.heard) > 40


@pytest.mark.parametrize("seed", seeds(4))
def test_readers_agree_at_every_horizon_however_they_look(
    seed: int, writer: JournalWriter, follow: Callable[[], Follower]
) -> None:
    rng = Random(seed)
    writer.commit(_opening(), 0, Stamp(0, 0))
    steady, fitful, horizon, serial = follow(), follow(), 0, 0
    seen: dict[int, Picture] = {}
    compared = 0
    for n in range(60):
        rows, horizon = _batch(rng, horizon, serial)
        serial += len(rows)
        if n == 30:
            writer.begin_session("boot two", 5, 5, "outby test")
            resumed = Resumed(down_ns=S, known_by="wall clock", wall_ns=OPENED.wall_ns)
            rows, horizon = [*rows, row_of(horizon + 1, resumed)], horizon + 1
        writer.commit(rows, horizon, Stamp(horizon, horizon))
        while steady.poll(1_000):
            pass
        assert steady.horizon == horizon
        seen[horizon] = steady.picture()
        if rng.random() < 0.3:
            fitful.poll(rng.choice([1, 3, 8, 100]))
        if fitful.horizon in seen:
            assert fitful.picture() == seen[fitful.horizon]
            compared += 1
    late = follow()
    for follower in (late, fitful):
        while follower.poll(7):
            pass
        assert follower.picture() == seen[horizon]
        assert (follower.horizon, follower.catching_up) == (horizon, False)
    assert compared > 0
    assert len({picture.alarms for picture in seen.values()}) > 5


def test_it_stands_at_the_horizon_and_never_beyond(
    writer: JournalWriter, follow: Callable[[], Follower]
) -> None:
    """Reports are due each second: there is a gap 3 s and 1 s more after the last."""
    writer.commit(_opening(), 0, Stamp(0, 0))
    frame = _frame(101, 1, Random(1), interval_s=1)
    writer.commit([Row(S, RowKind.FRAME, frame, 1)], 5 * S - 1, Stamp(1, 1))
    reader = follow()
    assert reader.poll()
    assert (reader.horizon, reader.incident.now) == (5 * S - 1, 5 * S - 1)
    assert reader.picture().wearers[0].signal is Signal.HEARD
    assert not reader.poll()
    assert reader.picture().wearers[0].signal is Signal.HEARD
    writer.commit([], 5 * S, Stamp(2, 2))
    assert reader.poll()
    assert reader.picture().wearers[0].signal is Signal.GAP


def test_nothing_new_is_no_move(writer: JournalWriter, follow: Callable[[], Follower]) -> None:
    reader = follow()
    assert reader.catching_up
    assert not reader.poll()
    assert (reader.horizon, reader.last_row, reader.catching_up) == (-1, 0, False)
    writer.commit(_opening(), 0, Stamp(0, 0))
    assert reader.poll()
    assert not reader.poll()
    assert (reader.horizon, reader.last_row) == (0, 11)


def test_catching_up_goes_in_bounded_steps(
    writer: JournalWriter, follow: Callable[[], Follower]
) -> None:
    writer.commit(_opening(), 0, Stamp(0, 0))
    rng = Random(2)
    rows = [Row(n * S // 10, RowKind.FRAME, _frame(101, n, rng), 1) for n in range(1, 5_001)]
    writer.commit(rows, rows[-1].t, Stamp(1, 1))
    reader = follow()
    assert reader.poll(1_000)
    assert reader.last_row == 1_000
    assert reader.catching_up
    polls = 1
    while reader.catching_up:
        assert reader.poll(1_000)
        polls += 1
    assert polls == 6
    assert reader.horizon == rows[-1].t


def test_a_closed_incident_is_let_go_so_that_one_file_remains(
    writer: JournalWriter, follow: Callable[[], Follower], path: Path
) -> None:
    writer.commit(_opening(), 0, Stamp(0, 0))
    reader = follow()
    reader.poll()
    writer.commit([row_of(S, Close(id="close-01", by="R. Harrow"))], S, Stamp(1, 1))
    assert reader.poll()
    assert reader.finished
    assert writer.close(final=True)
    assert list(path.parent.iterdir()) == [path]
    assert not reader.poll()
    assert reader.picture().closed


@pytest.mark.parametrize("kind", [RowKind.ACT, RowKind.FACT])
def test_a_row_that_is_not_understood_stops_it_for_good(
    writer: JournalWriter, follow: Callable[[], Follower], kind: RowKind
) -> None:
    writer.commit(_opening(), 0, Stamp(0, 0))
    writer.commit([Row(5, kind, b'{"what": "sing"}')], 9, Stamp(1, 1))
    reader = follow()
    for _ in range(2):
        with pytest.raises(BadJournal, match="row 12 is not to be understood"):
            reader.poll()


def test_what_was_announced_is_evidence_only(
    writer: JournalWriter, follow: Callable[[], Follower]
) -> None:
    writer.commit(_opening(), 0, Stamp(0, 0))
    writer.commit([Row(5, RowKind.ANNOUNCED, b"anything")], 9, Stamp(1, 1))
    reader = follow()
    assert reader.poll()
    assert reader.last_row == 12
    assert reader.picture().alarms == ()


def test_the_header_is_at_hand(writer: JournalWriter, follow: Callable[[], Follower]) -> None:
    assert writer.last.batch == 0
    assert follow().header.use == "exercise"
