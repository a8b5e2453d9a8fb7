"""Random histories of everything that can happen, and the commits they were journalled in."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, get_args

import pytest

from monitor import procedures
from monitor.checkpoint.file import Key, Place, place_of
from monitor.checkpoint.recalled import Recalled
from monitor.clock import Stamp
from monitor.incident import events
from monitor.incident.base_power import BasePower
from monitor.incident.decoding import announced_row, event_of, row_of
from monitor.incident.events import Act, Fact
from monitor.incident.incident import Incident
from monitor.incident.orders import events as orders
from monitor.incident.picture import Picture
from monitor.incident.record import events as record
from monitor.incident.rows import Row, RowKind, Standing
from monitor.incident.second_place import SecondPlace
from monitor.incident.signed import Signed
from monitor.incident.still_heard import StillHeard, Thinned
from monitor.journal.schema import Batch, Header
from monitor.journal.writer import JournalWriter
from protocol.codec import encode
from protocol.packets import (
    Apparatus,
    CheckResult,
    Equipment,
    Kind,
    Motion,
    Receipt,
    ReceiptKind,
    Report,
)

S = 1_000_000_000
PEOPLE = (1, 2, 3, 4, 9, 17, 33, 65)
"""Some share a place in a set of eight or 32: its order is then how it came about."""
EXPECTED = 70
"""Of a roster, and not here yet."""
PACKS = (101, 102, 103, 104, 109, 117, 133, 201, 202)
WALL_NS = 1_700_000_000 * S
INCIDENT = "0" * 32
OPENED = events.Opened(
    incident=INCIDENT, name="Kiln Lane", officer="R. Harrow", use="exercise",
    procedure=procedures.load("plain"), keyed=False, base=1, wall_ns=WALL_NS,
    software="outby test", fold=1,
)  # fmt: skip


KINDS: tuple[Any, ...] = (
    events.JoinPack, events.SetCrew, events.Connect, events.Enter, events.Locate, events.ComeOut,
    events.OffAir, events.SpokenReading, events.AmendStart, events.TrustGauge,
    events.ReachObjective, events.NewObjective,
    events.StartBack, events.AugmentSupply, events.PutAside, events.TakeBack, events.Acknowledge,
    events.Acknowledge, events.Reset, events.Silence, events.EnrolAgain, events.Note,
    orders.GiveOrder, orders.AnswerByVoice, orders.CloseOrder, orders.EmergencyCrew,
    *get_args(record.RecordAct),
)  # fmt: skip
TRIES = 6


@dataclass
class History:
    """Rows in order, with a commit every few of them."""

    rng: Random
    rows: list[Row] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)
    incident: Incident = field(default_factory=Incident)
    """As the recorder folds it: acts that it would refuse are not journalled."""
    t: int = 0
    sequences: dict[int, int] = field(default_factory=dict)

    def add(self, row: Row) -> None:
        event = event_of(row)
        assert event is not None
        self.rows.append(row)
        self.incident.apply(event)
        self._announce()

    def _announce(self) -> None:
        """Say what has become an alarm; one in ten is lost, as if the recorder died there."""
        for said in self.incident.take_announcements():
            if self.rng.random() < 0.9:
                self.rows.append(announced_row(self.t, said))

    def commit(self) -> None:
        self.t += self.rng.choice([0, S // 20, S // 4])
        self.incident.advance(self.t)
        self._announce()
        number = len(self.batches) + 1
        digest = number.to_bytes(16)
        batch = Batch(number, 1, len(self.rows), self.t, self.t, WALL_NS + self.t, digest)
        self.batches.append(batch)

    def batch(self, number: int) -> Batch | None:
        return self.batches[number - 1] if 0 < number <= len(self.batches) else None

    # ------------------------------------------------------------ what happens

    def go_on(self, count: int) -> None:
        for _ in range(count):
            self.t += self.rng.choice([1, S // 50, S // 3, S, S, 2 * S, 9 * S])
            chance = self.rng.random()
            if chance < 0.70:
                self.add(self._frame())
            elif chance < 0.92:
                self._act()
            else:
                self.add(row_of(self.t, self._fact()))
            if self.rng.random() < 0.3:
                self.commit()
        self.commit()

    def _act(self) -> None:
        """One of a kind that is drawn; most kinds are refused most of the time."""
        picture, kind = self.incident.picture(), self.rng.choice(KINDS)
        for _ in range(TRIES):
            act = self._some(kind, picture)
            if self.incident.would_refuse(act, self.t) is None:
                self.add(row_of(self.t, act))
                return

    def _frame(self) -> Row:
        rng = self.rng
        pack = rng.choice(PACKS)
        sequence = self.sequences[pack] = self.sequences.get(pack, 0) + rng.choice([1, 1, 1, 2, 9])
        boot = 2 if sequence > 60 else 1
        standing = rng.choice([Standing.LIVE] * 12 + list(Standing))
        late = rng.choice([0, 0, S // 100])
        common: dict[str, Any] = {
            "identity": pack, "boot": boot, "sequence": sequence, "epoch": 0, "keyed": False,
            "uptime_ms": self.t // 1_000_000, "beacon_heard": 0,
        }  # fmt: skip
        order = rng.randrange(3)
        packet: Report | Receipt
        if rng.random() < 0.1:
            packet = Receipt(answer=rng.choice(list(ReceiptKind)), order=order + 1, **common)
        else:
            packet = self._report(order, common)
        signal = rng.choice([None, -70, -95])
        link, frame = rng.choice([1, 2]), encode(packet, None)
        return Row(self.t, RowKind.FRAME, frame, link, late, standing, signal)

    def _report(self, order: int, common: dict[str, Any]) -> Report:
        rng = self.rng
        equipment = Equipment(rng.choice(list(Apparatus)), 3000, rng.choice([None, 680]), 550)
        seldom = rng.random() < 0.05
        return Report(
            kind=Kind.SIGN_ON if seldom else rng.choice([Kind.STATUS] * 20 + [Kind.SIGN_OFF]),
            pressure_dbar=max(0, 2_900 - self.t // (S // 2) - rng.randrange(60)),
            gas_temperature_c=rng.choice([None, 20, 35]), battery_percent=rng.choice([90, 8]),
            motion=rng.choice([Motion.MOVING] * 6 + list(Motion)),
            distress=rng.random() < 0.03, low_air=rng.random() < 0.03,
            coming_out=rng.random() < 0.03, self_test=rng.choice(list(CheckResult)),
            air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.PASSED,
            interval_s=rng.choice([1, 5]), order_received=order,
            order_acknowledged=rng.randrange(order + 1),
            equipment=equipment if seldom else None, **common,
        )  # fmt: skip

    def _some(self, kind: Any, picture: Picture) -> Act:
        rng = self.rng
        lines = [alarm.number for alarm in picture.alarms]
        alarms = [*lines, *(aside.number for aside in picture.put_aside)] or [1]
        to_fill = [cylinder.cylinder_id for cylinder in picture.to_fill] or ["C-1"]
        everybody = rng.random() < 0.5
        some = tuple(sorted(rng.sample(list(PEOPLE), rng.choice([1, 1, 2, 4]))))
        said = {
            "id": f"act-{len(self.rows):08}", "by": "R. Harrow", "wearer": rng.choice(PEOPLE),
            "wearers": some, "pack": rng.choice(PACKS), "crew": f"Alpha {rng.randrange(1, 5)}",
            "pressure_bar": rng.randrange(40, 290), "location": rng.choice(["kiln 2", "loft"]),
            "task": rng.choice(["", "search"]), "on": rng.random() < 0.5,
            "alarm": rng.choice(alarms), "alarms": (rng.choice(alarms),),
            "minutes": rng.randrange(1, 9), "reason": "seen", "seconds": 30, "text": "water on",
            "order": rng.choice(["evacuate", "come out", "roll call", "test"]),
            "scope": "some", "override": rng.choice(["", "all accounted for"]),
            "state": rng.choice(["ready", "committed", "stood down"]),
            "water_volume_l": 6.8, "rated_bar": 300.0, "at_ns": None,
            "check": rng.choice(get_args(record.CheckName)), "passed": rng.random() < 0.7,
            "brief": "find the valve", "communications": "2", "area": rng.choice(["kiln", "yard"]),
            "by_crew": "Alpha 9", "due_ns": rng.choice([None, self.t + 60 * S]),
            "board": rng.choice(["", "board B"]), "step": rng.choice(get_args(record.AfterStep)),
            "counts": rng.choice(["pack", "voice"]),
            "set_id": rng.choice(["S-1", "S-2"]), "cylinder_id": rng.choice(["C-1", "C-2"]),
            "to": "S. Marl", "of": "list-0001", "stage": rng.choice(["1", "2"]),
        }  # fmt: skip
        if kind is orders.GiveOrder:
            said |= {"everybody": everybody, "wearers": () if everybody else some}
        elif kind is orders.AnswerByVoice or kind is orders.CloseOrder:
            said["order"] = rng.randrange(1, 6)
        elif kind is record.Arrive:
            said["wearers"] = (EXPECTED,)
        elif kind is record.SearchArea:
            said["state"] = rng.choice(get_args(record.AreaState))
        elif kind is events.Reset:
            over = [a.number for a in picture.alarms if a.latched and a.acknowledged]
            said["alarm"] = rng.choice(over or [1])
        elif kind is events.Acknowledge:
            new = [alarm.number for alarm in picture.alarms if not alarm.acknowledged]
            said["alarms"] = (rng.choice(new or [1]),)
        elif kind is record.FillCylinder:
            said["cylinder_id"] = rng.choice(to_fill)
        elif kind is record.Undo and picture.undo is not None:
            said |= {"of": picture.undo.of, "wearers": picture.undo.wearers[:1]}
        fields = {name: value for name, value in said.items() if name in kind.model_fields}
        made: Act = kind.model_validate(fields)
        return made

    def _thinned(self, pack: int) -> Thinned:
        """Some frames after those heard, of which one may be missing; they need not be told."""
        frames = self.rng.choice([1, 3])
        sequence = self.sequences.get(pack, 0) + frames + self.rng.choice([0, 0, 1])
        one = StillHeard(
            pack, frames, sequence, self.t // 1_000_000, self.rng.choice([None, 2_000])
        )
        return Thinned(packs=(one,))

    def _fact(self) -> Fact:
        rng, t = self.rng, self.t
        wall_ns = WALL_NS + t
        facts: list[Fact] = [
            events.Stall(from_ns=max(0, t - S), to_ns=t),
            events.Resumed(
                down_ns=rng.choice([S, 90 * S]),
                known_by=rng.choice(["boot clock", "wall clock", "unknown"]),
                wall_ns=wall_ns,
            ),
            events.Setup(links=("udp:41901",), key=rng.choice(["", "fleet.key"]), sound="off"),
            events.TimeMoved(by_ns=S, known_by="pack uptime"),
            events.ClockStep(by_ns=5 * S, wall_ns=wall_ns + 5 * S),
            events.WentOn(stood_ns=5 * S, wall_ns=wall_ns + 5 * S),
            events.LinkState(link=rng.choice([1, 2]), name="udp", up=rng.random() < 0.7),
            events.Refused(link=1, counts={"authentication": 3, "repeated": 2}),
            events.DiskState(state=rng.choice(["ok", "behind", "full"])),
            events.SoundState(state=rng.choice(["player", "missing"])),
            events.PackClock(pack=rng.choice(PACKS), ppm=rng.choice([900, -900])),
            BasePower(state=rng.choice(["mains", "battery"]), percent=rng.randrange(101)),
            Signed(batch=1, digest="0" * 64, signature="0" * 128),
            SecondPlace(state=rng.choice(["ready", "in use", "left"]), rows=3),
            self._thinned(rng.choice(PACKS)),
            events.BoardsAlive(alive=rng.random() < 0.5),
            events.PackClock(pack=101, ppm=9_500),
            events.Holder(board=rng.choice(["", "board 1"]), by="R. Harrow"),
            orders.OrdersSent(
                sent=(orders.SentOrder(rng.randrange(4), rng.choice(PACKS), rng.randrange(1, 9)),)
            ),
        ]
        return rng.choice(facts)


def begun(rng: Random) -> History:
    history = History(rng)
    history.add(row_of(0, OPENED))
    for n in PEOPLE:
        by: dict[str, Any] = {"by": "R. Harrow", "wearer": n}
        crew = f"Alpha {n % 4 + 1}"
        names = {"name": f"W {n}", "crew": crew, "leader": n % 2 > 0}
        listed = events.ListWearer.model_validate({"id": f"list-{n:04}"} | names | by)
        history.add(row_of(0, listed))
        pack = {"pack": 100 + n} if n != PEOPLE[-1] else {}
        cylinder = {"id": f"join-{n:04}", "water_volume_l": 6.8, "rated_bar": 300}
        joined = events.JoinPack.model_validate(cylinder | pack | by)
        history.add(row_of(0, joined))
        full = {"by": "R. Harrow", "wearers": (n,), "pressure_bar": 290}
        connected = events.Connect.model_validate({"id": f"conn-{n:04}"} | full)
        history.add(row_of(0, connected))
    by = {"by": "R. Harrow", "wearer": EXPECTED}
    listed = events.ListWearer.model_validate({"id": "list-late", "name": "W late"} | by)
    history.add(row_of(0, listed))
    joined = events.JoinPack.model_validate({"id": "join-late", "pack": 170, "expected": True} | by)
    history.add(row_of(0, joined))
    history.commit()
    return history


def folded(rows: list[Row], batch: Batch | None = None) -> Recalled:
    """The state of a commit by the plainest fold there is."""
    state = Recalled()
    state.take(rows[: batch.last_row] if batch else rows)
    if batch:
        state.advance(batch.horizon)
    return state


@pytest.fixture
def make_history() -> Callable[..., History]:
    """By seed: some hundreds of rows, mostly frames, from eight people and ten packs."""

    def make(seed: int, count: int = 300) -> History:
        history = begun(Random(seed))
        history.go_on(count)
        return history

    return make


@pytest.fixture(scope="module")
def rows_of() -> Callable[[int], list[Row]]:
    """The rows of such a history, by seed; kept, since several tests look at the same."""

    @cache
    def make(seed: int) -> list[Row]:
        history = begun(Random(seed))
        history.go_on(300)
        return history.rows

    return make


@pytest.fixture
def fold() -> Callable[..., Recalled]:
    return folded


@pytest.fixture
def key() -> Key:
    return Key(1, "c0de" * 8, INCIDENT)


@pytest.fixture
def place() -> Place:
    return place_of(Batch(7, 1, 0, 5 * S, 5 * S, 0, bytes(16)))


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "kiln-lane.journal"


@pytest.fixture
def write(journal: Path) -> Iterator[Callable[..., Path]]:
    """Journals a history, commit by commit."""
    writers: list[JournalWriter] = []

    def make(history: History, path: Path = journal, incident: str = INCIDENT) -> Path:
        header = Header(fold=1, software="outby test", incident=incident, use="exercise",
                        opened_wall_ns=WALL_NS)  # fmt: skip
        writer = JournalWriter.create(path, header)
        writers.append(writer)
        writer.begin_session("boot one", 0, WALL_NS, "outby test")
        for before, batch in zip([None, *history.batches], history.batches, strict=False):
            rows = history.rows[before.last_row if before else 0 : batch.last_row]
            writer.commit(rows, batch.horizon, Stamp(batch.boot_ns, batch.wall_ns))
        return path

    yield make
    for writer in writers:
        writer.close(final=False)
