"""Alarms of the test's own, a small incident told row by row, and the golden journal."""

import json
import sqlite3
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest

import shared
from monitor import procedures
from monitor.incident import events
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.decoding import row_of
from monitor.incident.events import Opened
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.picture import Priority
from monitor.incident.procedure import Procedure
from monitor.incident.rows import Row, RowKind
from monitor.report.alarm_lives import AlarmLife, Answer, Spell, Wait
from monitor.report.gathering import Gathered, gather
from monitor.report.reading import Told, read
from protocol import codec
from protocol.packets import CheckResult, Motion, Report
from protocol.packets import Kind as PacketKind

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
"""2023-11-14 22:13:20 UTC."""
GOLDEN = shared.path("journals", "kiln-lane.journal")


def alarm(
    *began_s: float,
    kind: Kind = Kind.NO_SIGNAL,
    wearer: int = 1,
    priority: Priority | None = None,
    taken_after_s: float | None = None,
    lasts_s: float | None = None,
) -> AlarmLife:
    """An alarm that began to wait at these seconds."""
    priority = priority or CATALOGUE[kind].priority
    life = AlarmLife(next(_numbers), Key(kind, wearer=wearer), priority)
    life.word, life.subject = CATALOGUE[kind].word, f"{wearer} Alpha {wearer}"
    life.began = [(round(t * S), priority) for t in began_s]
    end = None if lasts_s is None else round((began_s[0] + lasts_s) * S)
    life.lines = [Spell(round(began_s[0] * S), end)]
    for t in began_s:
        wait = Wait(Spell(round(t * S)), priority)
        if taken_after_s is not None:
            wait.spell.to_ns = round((t + taken_after_s) * S)
            wait.answer, wait.by = Answer.TAKEN, "R. Harrow"
        life.waits.append(wait)
    return life


_numbers = count(1)


@pytest.fixture(scope="session")
def make_alarm() -> Callable[..., AlarmLife]:
    return alarm


class Tale:
    """Rows of an incident, told in order."""

    def __init__(self, rules: Procedure | None = None) -> None:
        self.rows: list[Row] = []
        self._ids = count(1)
        self._sequences: dict[int, Iterator[int]] = {}
        self.fact(
            0,
            Opened(
                incident="0" * 32, name="Kiln Lane", entry_point="A", officer="R. Harrow",
                use="exercise", procedure=rules or procedures.load("plain"), keyed=False, base=1,
                wall_ns=WALL_NS, software="outby test", fold=FOLD_VERSION,
            ),
        )  # fmt: skip

    def fact(self, t_s: float, what: Any) -> None:
        self.rows.append(row_of(round(t_s * S), what))

    def act(self, t_s: float, kind: Any, **fields: Any) -> None:
        fields.setdefault("id", f"act-{next(self._ids):06}")
        fields.setdefault("by", "R. Harrow")
        self.fact(t_s, kind(**fields))

    def person(self, wearer: int, **fields: Any) -> None:
        """List somebody, with pack 100 more than their number."""
        self.act(
            0, events.ListWearer, wearer=wearer, name=f"W. Clay {wearer}",
            call_sign=f"Alpha {wearer}", crew=fields.pop("crew", "Alpha"),
        )  # fmt: skip
        self.act(
            0, events.JoinPack, wearer=wearer, pack=100 + wearer, water_volume_l=6.8,
            rated_bar=300.0, **fields,
        )  # fmt: skip

    def hear(self, t_s: float, wearer: int = 1, bar: float | None = 280.0, **fields: Any) -> None:
        """A frame of a wearer's pack."""
        pack = 100 + wearer
        numbers = self._sequences.setdefault(pack, count(1))
        usual: dict[str, Any] = {
            "kind": PacketKind.STATUS, "boot": 1, "sequence": next(numbers), "epoch": 0,
            "keyed": False, "pressure_dbar": None if bar is None else round(bar * 10),
            "gas_temperature_c": 30, "battery_percent": 90, "motion": Motion.MOVING,
            "distress": False, "low_air": False, "coming_out": False,
            "self_test": CheckResult.PASSED, "air_warning_test": CheckResult.PASSED,
            "motion_warning_test": CheckResult.PASSED, "interval_s": 5,
            "uptime_ms": round(t_s * 1000), "order_received": 0, "order_acknowledged": 0,
            "beacon_heard": 9,
        }  # fmt: skip
        dbm = fields.pop("signal_dbm", -60)
        packet = Report(identity=pack, **{**usual, **fields})
        frame = codec.encode(packet, None)
        self.rows.append(Row(round(t_s * S), RowKind.FRAME, frame, 1, signal_dbm=dbm))

    def gathered(self, end_s: float) -> Gathered:
        return gather([self.rows], round(end_s * S))


@pytest.fixture
def tale() -> Tale:
    return Tale()


@pytest.fixture(scope="session")
def new_tale() -> type[Tale]:
    return Tale


@pytest.fixture(scope="session")
def golden() -> Told:
    """The golden journal as a report reads it."""
    return read(GOLDEN)


class Raw:
    """The golden journal's rows as any SQLite tool reads them: nothing of ours in between."""

    def __init__(self, path: Path) -> None:
        with sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True) as connection:
            self.rows: list[tuple[int, int, bytes]] = connection.execute(
                "SELECT t, kind, data FROM rows ORDER BY id"
            ).fetchall()
            (self.horizon,) = connection.execute("SELECT max(horizon) FROM batches").fetchone()

    def said(self, kind: int, what: str = "") -> list[tuple[int, dict[str, Any]]]:
        """JSON rows of one kind: 2 acts, 3 facts, 4 announcements. A live frame is exactly 1."""
        told = [(t, json.loads(data)) for t, k, data in self.rows if k & 15 == kind]
        return [(t, one) for t, one in told if not what or one.get("what") == what]


@pytest.fixture(scope="session")
def raw() -> Raw:
    return Raw(GOLDEN)
