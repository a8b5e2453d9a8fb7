"""A whole incident, from opening to closing: each field that guidance wants kept is kept, and told.

The list is the union of UK national guidance on entry control and telemetry (National Fire Chiefs
Council, foundation for breathing apparatus), FwDV 7 (2002, with changes 2005) section 7.4, and
BS 8608:2014 clause 7. The incident is invented.
"""

from collections.abc import Callable
from datetime import UTC
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from monitor import procedures
from monitor.clock import Stamp
from monitor.export.exporter import Exporter
from monitor.export.sinks import Row as OutRow
from monitor.export.sinks import Sink
from monitor.export.tables import TABLES
from monitor.incident import events
from monitor.incident.decoding import row_of
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.orders.events import AnswerByVoice, EmergencyCrew, GiveOrder
from monitor.incident.record import events as record
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.report.reading import read
from monitor.report.report_page import report
from protocol import codec
from protocol.packets import CheckResult, Motion, Report
from protocol.packets import Kind as PacketKind

pytestmark = pytest.mark.xdist_group("whole record")
"""Reported and exported once, by one worker."""
S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
"""2023-11-14 22:13:20 UTC."""


class Told:
    """Rows of an incident, in order."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self._ids = count(1)
        self._sequence = count(1)

    def fact(self, t_s: int, what: Any) -> None:
        self.rows.append(row_of(t_s * S, what))

    def act(self, t_s: int, kind: Any, **fields: Any) -> str:
        named = {"id": f"act-{next(self._ids):06}", "by": "R. Harrow", **fields}
        self.fact(t_s, kind(**named))
        return str(named["id"])

    def hear(self, t_s: int, pack: int, bar: int, **fields: Any) -> None:
        usual: dict[str, Any] = {
            "kind": PacketKind.STATUS, "boot": 1, "sequence": next(self._sequence), "epoch": 0,
            "keyed": False, "pressure_dbar": bar * 10, "gas_temperature_c": 30,
            "battery_percent": 90, "motion": Motion.MOVING, "distress": False, "low_air": False,
            "coming_out": False, "self_test": CheckResult.PASSED,
            "air_warning_test": CheckResult.PASSED, "motion_warning_test": CheckResult.PASSED,
            "interval_s": 5, "uptime_ms": t_s * 1000, "order_received": 0,
            "order_acknowledged": 0, "beacon_heard": 9,
        }  # fmt: skip
        frame = codec.encode(Report(identity=pack, **{**usual, **fields}), None)
        self.rows.append(Row(t_s * S, RowKind.FRAME, frame, 1, signal_dbm=-60))


def told() -> Told:
    """One crew of two with telemetry and one without, a distress, an evacuation, a handover."""
    one = Told()
    act, hear = one.act, one.hear
    one.fact(
        0,
        events.Opened(
            incident="0" * 32, name="Kiln Lane", place="brick works", entry_point="A", stage="1",
            officer="R. Harrow", use="exercise", procedure=procedures.load("fwdv7"), keyed=False,
            base=1, wall_ns=WALL_NS, software="outby test", fold=FOLD_VERSION,
        ),
    )  # fmt: skip
    for n, name, crew in ((1, "A. Quoin", "Alpha"), (2, "B. Corbel", "Alpha"),
                          (3, "C. Marl", "Beta"), (4, "D. Hod", "Beta")):  # fmt: skip
        act(0, events.ListWearer, wearer=n, name=name, call_sign=f"{crew} {n}", crew=crew,
            leader=n % 2 == 1)  # fmt: skip
        pack = 100 + n if n < 3 else None
        act(0, events.JoinPack, wearer=n, pack=pack, water_volume_l=6.8, rated_bar=300,
            set_id=f"S-{n}", cylinder_id=f"C-{n}")  # fmt: skip
    for pack in (101, 102):
        hear(2, pack, 300)
    act(3, record.TickCheck, wearer=3, check="warnings", remark="tried by hand")
    act(4, EmergencyCrew, crew="Beta", state="ready")
    act(5, record.Assign, wearers=(1, 2), task="search", brief="left hand wall",
        communications="radio")  # fmt: skip
    act(10, events.Connect, wearers=(1, 2), pressure_bar=300)
    act(20, events.Enter, wearers=(1, 2), location="kiln hall")
    _inside(one)
    _over(one)
    return one


def _inside(one: Told) -> None:
    act, hear = one.act, one.hear
    for t in range(25, 500, 5):
        for pack in (101, 102):
            if pack == 101 or not 300 <= t < 400:
                hear(t, pack, 300 - t // 10, distress=pack == 102 and t == 410)
        if t == 100:
            act(t, events.ReachObjective, wearers=(1, 2))
        if t == 130:
            # Sent on: what was reached before stays in the record.
            act(t, events.NewObjective, wearers=(1, 2))
        if t == 150:
            act(t, record.SearchArea, area="kiln hall", state="searched", wearers=(1, 2))
        if t == 200:
            act(t, events.Note, text="door two is jammed", wearer=1)
        if t == 415:
            act(t, record.TellEmergency, wearers=(2,), to="command", text="name: B. Corbel")
            act(t, EmergencyCrew, crew="Beta", state="committed")
            act(t, GiveOrder, order="evacuate", everybody=True, scope="everybody", reason="roof",
                on_order_of="command")  # fmt: skip
            act(t, record.RealEmergency, reason="roof came down")
            act(t, events.StartBack, wearers=(1, 2))
        if t == 430:
            act(t, AnswerByVoice, order=1, wearers=(1, 2))


def _over(one: Told) -> None:
    act = one.act
    wrong = act(500, events.ComeOut, wearers=(1, 2), door="north gate")
    act(510, events.OffAir, wearers=(1, 2))
    act(511, record.Correct, of=wrong, text="wearer 2 came out here")
    act(512, record.TickAfterUse, wearer=1, step="cylinder off")
    act(513, record.ReportDefect, set_id="S-2", text="leaks")
    act(514, record.HandOver, to="M. Slip")
    one.fact(514, events.Holder(board="b", by="M. Slip"))
    act(520, events.Close, override="order stands")


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "whole.journal"
    header = Header(fold=FOLD_VERSION, software="outby test", incident="0" * 32, use="exercise",
                    opened_wall_ns=WALL_NS)  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session("boot", 0, WALL_NS, "outby test")
    rows = told().rows
    writer.commit(rows, 521 * S, Stamp(521 * S, WALL_NS + 521 * S))
    writer.close(final=True)
    return path


@pytest.fixture(scope="module")
def page(journal: Path) -> str:
    return "".join(report(read(journal), UTC))


class Kept:
    def __init__(self, names: list[str]) -> None:
        self.names = names
        self.rows: list[dict[str, Any]] = []

    def write(self, row: OutRow) -> None:
        self.rows.append(dict(zip(self.names, row, strict=True)))

    def close(self) -> None:
        """Nothing is open."""


@pytest.fixture(scope="module")
def tables(journal: Path) -> dict[str, list[dict[str, Any]]]:
    kept = {table.name: Kept([c.name for c in table.columns]) for table in TABLES}
    sinks: dict[str, list[Sink]] = {name: [sink] for name, sink in kept.items()}
    Exporter(journal, sinks, None, "caution").run(lambda _done, _all: None)
    return {name: sink.rows for name, sink in kept.items()}


Tables = dict[str, list[dict[str, Any]]]


def act_rows(tables: Tables, act: str) -> list[dict[str, Any]]:
    return [row for row in tables["acts"] if row["act"] == act]


EXPORTED: dict[str, Callable[[Tables], bool]] = {
    "incident id, place, date, entry point, stage, officer": lambda t: (
        [t["incident"][0][n] for n in ("incident", "place", "entry_point", "stage", "officer")]
        == ["0" * 32, "brick works", "A", "1", "R. Harrow"]
        and t["incident"][0]["opened"] == WALL_NS
    ),
    "officer from and to": lambda t: act_rows(t, "hand over")[0]["by"] == "R. Harrow"
    and "M. Slip" in act_rows(t, "hand over")[0]["details"],
    "name, call sign, crew, leader": lambda t: [
        t["wearers"][0][n] for n in ("name", "call_sign", "crew", "leader")
    ] == ["A. Quoin", "Alpha 1", "Alpha", True],
    "set and cylinder, water volume, rated pressure": lambda t: [
        t["wearers"][0][n] for n in ("set", "cylinder", "water_volume_l", "rated_pressure_bar")
    ] == ["S-1", "C-1", 6.8, 300.0],
    "pressure and time at connecting": lambda t: (
        t["wearers"][0]["connected_clock"] == WALL_NS + 10 * S
        and t["wearers"][0]["connected_pressure_bar"] == 300.0
    ),
    "time entered": lambda t: t["wearers"][0]["entered_clock"] == WALL_NS + 20 * S,
    "location, task, brief, communications": lambda t: [
        t["wearers"][0][n] for n in ("location", "task", "brief", "communications")
    ] == ["kiln hall", "search", "left hand wall", "radio"],
    "turn-back pressure": lambda t: t["wearers"][0]["turn_back_bar"] is not None,
    "objective reached": lambda t: t["wearers"][0]["objective_clock"] == WALL_NS + 100 * S,
    "start of withdrawal": lambda t: t["wearers"][0]["back_clock"] == WALL_NS + 415 * S,
    "time and pressure out": lambda t: (
        t["wearers"][0]["out_clock"] == WALL_NS + 500 * S
        and t["wearers"][0]["out_pressure_bar"] is not None
    ),
    "off air, wearing time": lambda t: (
        t["wearers"][0]["off_air_clock"] == WALL_NS + 510 * S
        and t["wearers"][0]["wearing_time_ns"] == 500 * S
        and t["wearers"][0]["off_air_pressure_bar"] is not None
    ),
    "another door": lambda t: t["wearers"][0]["door"] == "north gate",
    "alarms with start, cleared, reason": lambda t: any(
        row["kind"] == "distress" and row["raised_clock"] == WALL_NS + 410 * S
        for row in t["alarms"]
    ),
    "signal-loss intervals": lambda t: any(row["kind"] == "no_signal" for row in t["alarms"]),
    "orders and every answer": lambda t: bool(act_rows(t, "give order"))
    and act_rows(t, "answer by voice")[0]["wearers"] == "1 2",
    "emergency crew": lambda t: len(act_rows(t, "emergency crew")) == 2,
    "emergency message": lambda t: act_rows(t, "tell emergency")[0]["said"] == "name: B. Corbel",
    "areas searched": lambda t: [
        t["areas"][0][n] for n in ("area", "state", "wearers", "by")
    ] == ["kiln hall", "searched", "1 2", "R. Harrow"],
    "remarks": lambda t: act_rows(t, "note")[0]["said"] == "door two is jammed",
    "corrections as additions": lambda t: act_rows(t, "correct")[0]["said"]
    == "wearer 2 came out here" and len(act_rows(t, "come out")) == 1,
    "real from that moment": lambda t: {row["use"] for row in act_rows(t, "enter")} == {"EXERCISE"}
    and {row["use"] for row in act_rows(t, "off air")} == {"REAL"},
}  # fmt: skip


@pytest.mark.parametrize("field", EXPORTED)
def test_the_export_has_it(tables: Tables, field: str) -> None:
    assert EXPORTED[field](tables), field


TOLD = (
    "brick works", "Kiln Lane", "EXERCISE, THEN REAL", "roof came down", "M. Slip",
    "A. Quoin", "Alpha 1", "leads it", "S-1", "C-1", "6.8 litres", "300 bar",
    "22:13:30", "22:13:40", "kiln hall", "left hand wall", "radio", "withdrawal at",
    "constants of these", "one third of the expected time", "two thirds of the expected time",
    "22:15:00", "22:20:15", "north gate", "wearing time", "distress", "evacuate",
    "by voice", "committed", "kiln hall (searched)", "door two is jammed",
    "wearer 2 came out here", "emergency message to command: name: B. Corbel",
    "leaks", "cylinder C-1", "tried by hand",
)  # fmt: skip
"""Times: connected 10 s, entered 20 s, objective 100 s, back 415 s after 22:13:20."""


@pytest.mark.parametrize("words", TOLD)
def test_the_report_tells_it(page: str, words: str) -> None:
    assert words in page or words in page.replace("&#x27;", "'"), words


def test_the_journal_has_every_act_of_it(journal: Path) -> None:
    """One row an act, as it was given; nothing was refused."""
    given = [row for row in told().rows if row.kind is RowKind.ACT]
    gathered = read(journal).gathered
    assert len(gathered.acts) == len(given)
