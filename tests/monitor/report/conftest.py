"""Alarms of the test's own, a small incident told row by row, and the golden journal."""

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC
from itertools import count
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import html5lib
import pytest

import shared
from monitor import procedures
from monitor.incident import events
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.decoding import row_of
from monitor.incident.events import Opened
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.orders.events import AnswerByVoice, EmergencyCrew, GiveOrder
from monitor.incident.picture import Priority
from monitor.incident.procedure import Procedure
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Batch, Header, Session
from monitor.report.alarm_lives import AlarmLife, Answer, Spell, Wait
from monitor.report.gathering import Gathered, gather
from monitor.report.reading import Told, read
from monitor.report.report_page import report
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

    def alarms(self, end_s: float, kind: str) -> tuple[int, ...]:
        """Numbers of the alarms of a kind so far."""
        lives = self.gathered(end_s).lives.in_order()
        return tuple(life.number for life in lives if life.kind == kind)

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
        with (
            closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection,
            connection,
        ):
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


# ---------------------------------------------------------------- a page, read back

XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


class PageRead:
    """A page as a parser of the standard reads it; any fault of its HTML is an error here."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.root: ET.Element = html5lib.HTMLParser(strict=True).parse(text)

    def all(self, name: str) -> list[ET.Element]:
        return list(self.root.iter(XHTML + name))

    def words(self) -> str:
        """All text outside drawings and style."""
        body = self.all("body")[0]
        return " ".join(_texts(body))

    def table(self, caption: str, nth: int = 0) -> list[dict[str, str]]:
        """Rows of the table with this caption, by the words of its head."""
        found = [t for t in self.all("table") if _text(_first(t, "caption")) == caption]
        head = [_text(cell) for cell in _first(found[nth], "thead").iter(XHTML + "th")]
        rows = _first(found[nth], "tbody").iter(XHTML + "tr")
        return [dict(zip(head, map(_text, row), strict=True)) for row in rows]

    def facts(self, heading: str, nth: int = 0) -> dict[str, str]:
        """Names and values of the list under this heading."""
        lists = [e for e in self.all("dl") if e.get("aria-label") == heading]
        return {
            _text(_first(pair, "dt")): _text(_first(pair, "dd"))
            for pair in lists[nth].iter(XHTML + "div")
        }


def _first(element: ET.Element, name: str) -> ET.Element:
    return next(element.iter(XHTML + name))


def _text(element: ET.Element) -> str:
    return "".join(element.itertext()).strip()


def _texts(element: ET.Element) -> Iterator[str]:
    if element.tag in (SVG + "svg", XHTML + "style"):
        return
    if element.text:
        yield element.text
    for child in element:
        yield from _texts(child)
        if child.tail:
            yield child.tail


def told_of(tale: Tale, end_s: float, **header: Any) -> Told:
    """A tale as if it had been read from a file."""
    fields: dict[str, Any] = {
        "fold": FOLD_VERSION, "software": "outby test", "incident": "0" * 32,
        "use": "exercise", "opened_wall_ns": WALL_NS, **header,
    }  # fmt: skip
    last = Batch(9, 1, len(tale.rows), round(end_s * S), 0, WALL_NS, bytes(range(16)))
    session = Session(1, "boot", 0, WALL_NS, "outby test")
    return Told("a.journal", Header(**fields), last, (session,), tale.gathered(end_s))


@pytest.fixture(scope="session")
def tell() -> Callable[..., Told]:
    return told_of


@pytest.fixture(scope="session")
def read_page() -> Callable[[Told], PageRead]:
    return lambda told: PageRead("".join(report(told, UTC)))


@pytest.fixture(scope="session")
def golden_page(golden: Told) -> PageRead:
    return PageRead("".join(report(golden, UTC)))


def _evening() -> Tale:
    """Two crews, a distress, an evacuation, a roll call, things said late and things put aside."""
    tale = Tale()
    tale.fact(0, events.LinkState(link=1, name="udp 41900", up=True))
    for wearer, crew in ((1, "Alpha"), (2, "Alpha"), (3, "Beta"), (4, "Beta")):
        tale.person(wearer, crew=crew)
    tale.act(1, events.ListWearer, wearer=5, name="Q. <Stamp> & $on$", crew="Gamma")
    for t in range(5, 1_201, 5):
        _deeds(tale, t)
        for wearer in (1, 2):
            if wearer == 1 or not 300 <= t < 500:
                tale.hear(t + wearer / 10, wearer, bar=300 - t / 10 - wearer,
                          distress=wearer == 2 and 520 <= t < 600)  # fmt: skip
    return tale


def _deeds(tale: Tale, t: int) -> None:
    if t == 10:
        tale.act(t, events.Connect, wearers=(1, 2))
        tale.act(t, EmergencyCrew, crew="Beta", state="ready")
    if t == 20:
        tale.act(t, events.Enter, wearers=(1, 2), location="kiln hall", task="search")
    if t == 200:
        tale.act(t, events.ReachObjective, wearers=(1, 2), at_ns=190 * S)
    if t == 330:
        tale.act(t, events.SpokenReading, wearers=(2,), pressure_bar=262, location="loft")
    if t == 540:
        tale.act(t, events.Acknowledge, alarms=tale.alarms(t, "distress"))
    if t == 610:
        tale.act(t, events.Reset, alarm=tale.alarms(t, "distress")[0], reason="found well")
    if t == 700:
        tale.act(t, GiveOrder, order="evacuate", everybody=True, scope="everybody", reason="roof")
    if t == 720:
        tale.act(t, AnswerByVoice, order=1, wearers=(1,))
    if t == 800:
        tale.act(t, events.ComeOut, wearers=(1, 2))
        tale.act(t, GiveOrder, order="roll call", everybody=True, scope="everybody")
    if t == 830:
        tale.act(t, AnswerByVoice, order=2, wearers=(1, 2))
    if t == 900:
        tale.act(t, events.OffAir, wearers=(1, 2))


@pytest.fixture(scope="session")
def evening() -> Tale:
    return _evening()


@pytest.fixture(scope="session")
def evening_page(evening: Tale) -> PageRead:
    return PageRead("".join(report(told_of(evening, 1_210), UTC)))


@pytest.fixture(scope="session")
def parse() -> Callable[[str], PageRead]:
    return PageRead
