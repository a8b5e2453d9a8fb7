"""The golden journal in tables: beside the journal itself, the board and the expected lines."""

import re
from collections import Counter
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pcapng
import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.export.capture import CaptureWriter
from monitor.export.exporter import Exporter
from monitor.export.tables import TABLES, Type
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import (
    ClockStep,
    Connect,
    Done,
    Enter,
    Heard,
    Note,
    Resumed,
    SpokenReading,
    TimeMoved,
)
from monitor.incident.incident import Incident
from monitor.incident.orders.events import AnswerByVoice, GiveOrder
from monitor.incident.rows import Row, RowKind
from monitor.journal.reader import JournalReader
from monitor.journal.writer import JournalWriter
from protocol.packets import Report
from tests.monitor.export.conftest import GOLDEN, WALL_NS, Exporting, Found

S = 1_000_000_000
pytestmark = pytest.mark.filterwarnings("ignore:Field type should not be:DeprecationWarning")


@pytest.fixture(scope="module")
def journal_rows() -> list[Row]:
    with JournalReader(GOLDEN) as reader:
        return [row for step in reader.steps(reader.last_batch().last_row) for row in step]


def numbered(rows: list[Row], kind: RowKind) -> dict[int, Row]:
    return {number: row for number, row in enumerate(rows, 1) if row.kind is kind}


def test_every_row_has_a_value_of_its_columns_type(golden: Found) -> None:
    kinds: dict[Type, type | tuple[type, ...]] = {
        Type.TEXT: str, Type.INTEGER: int, Type.NUMBER: float, Type.TRUTH: bool, Type.TIME: int,
    }  # fmt: skip
    for table in TABLES:
        # The golden incident is older than the noting of areas, and has no order.
        assert golden[table.name] or table.name in {"areas", "orders"}, table.name
        for row in golden[table.name]:
            assert list(row) == [column.name for column in table.columns]
            assert row["use"] == "EXERCISE"
            for column in table.columns:
                value = row[column.name]
                assert value is None or isinstance(value, kinds[column.type]), column.name
                assert not (column.type is Type.INTEGER and isinstance(value, bool))
                # Comma-separated values could not tell an empty text from one not known.
                assert value != "", column.name


def test_the_incident(golden: Found) -> None:
    (row,) = golden["incident"]
    assert (row["name"], row["officer"], row["entry_point"]) == ("Kiln Lane", "R. Harrow", "A")
    assert (row["opened"], row["length_ns"]) == (WALL_NS, 610 * S)
    assert (row["closed"], row["keyed"], row["caution"]) == (False, True, "the caution")


def test_every_frame_is_one_reading(golden: Found, journal_rows: list[Row]) -> None:
    frames = numbered(journal_rows, RowKind.FRAME)
    heard = [row for row in golden["readings"] if row["source"] == "telemetry"]
    assert [row["row"] for row in heard] == list(frames)
    for row, (number, frame) in zip(heard, frames.items(), strict=True):
        event = event_of(frame)
        assert isinstance(event, Heard)
        packet = event.packet
        assert (row["time_ns"], row["clock"]) == (frame.t, WALL_NS + frame.t), number
        assert (row["pack"], row["boot"], row["sequence"], row["uptime_ms"]) == (
            packet.identity, packet.boot, packet.sequence, packet.uptime_ms,
        )  # fmt: skip
        assert row["signal_dbm"] == frame.signal_dbm
        if isinstance(packet, Report):
            dbar = packet.pressure_dbar
            assert row["pressure_bar"] == (None if dbar is None else dbar / 10)
            assert (row["distress"], row["interval_s"]) == (packet.distress, packet.interval_s)


def test_every_act_and_fact_and_announcement_is_one_row(
    golden: Found, journal_rows: list[Row]
) -> None:
    assert [r["row"] for r in golden["acts"]] == list(numbered(journal_rows, RowKind.ACT))
    told = [r["row"] for r in golden["facts"]]
    assert told == sorted(
        [*numbered(journal_rows, RowKind.FACT), *numbered(journal_rows, RowKind.ANNOUNCED)]
    )


def test_alarms_are_those_of_the_expected_lines(golden: Found) -> None:
    """The lines beside the golden journal: first announcement of each alarm, to the millisecond."""
    expected = (Path(__file__).parents[2] / "golden" / "kiln-lane.expected.txt").read_text("utf-8")
    lines = re.findall(r"^ *([\d.]+) s  alarm (\d+): (\w+), wearer (.*)$", expected, re.MULTILINE)
    assert lines
    rows = {row["alarm"]: row for row in golden["alarms"]}
    assert len(rows) == len(golden["alarms"])
    for seconds, number, kind, _ in lines:
        row = rows[int(number)]
        assert row["kind"] == kind
        raised = row["raised_ns"]
        assert isinstance(raised, int)
        assert raised / S <= float(seconds) + 0.001


def test_an_alarm_was_taken_by_whom_the_acts_say(golden: Found) -> None:
    """The first acknowledgement of each: who, and when."""
    taken: dict[int, tuple[object, object]] = {}
    for act in golden["acts"]:
        if act["act"] == "acknowledge":
            for number in str(act["alarms"]).split():
                taken.setdefault(int(number), (act["time_ns"], act["by"]))
    assert taken
    shown = {
        row["alarm"]: (row["acknowledged_ns"], row["acknowledged_by"])
        for row in golden["alarms"]
        if row["acknowledged_by"] is not None
    }
    assert shown == taken


def test_a_wear_has_the_times_of_its_acts(golden: Found) -> None:
    acts = Counter(
        (act["act"], number)
        for act in golden["acts"]
        for number in str(act["wearers"] or "").split()
    )
    for row in golden["wearers"]:
        number = str(row["wearer"])
        assert acts["connect", number] == (row["connected_clock"] is not None)
        assert acts["enter", number] == (row["entered_clock"] is not None)
        if row["off_air_clock"] is not None:
            assert row["wearing_time_ns"] == row["off_air_clock"] - row["connected_clock"]  # type: ignore[operator]


def test_a_minute_of_the_link_is_what_the_board_showed(
    golden: Found, journal_rows: list[Row]
) -> None:
    incident = Incident()
    for one in journal_rows:
        if one.t > 300 * S:
            break
        event = event_of(one)
        if event is not None:
            incident.apply(event)
    incident.advance(300 * S)
    board = {w.wearer: w for w in incident.picture().wearers if w.pack is not None}
    minute = {row["wearer"]: row for row in golden["link"] if row["time_ns"] == 300 * S}
    assert list(minute) == list(board)
    for wearer, row in minute.items():
        view = board[wearer]  # type: ignore[index]
        assert row["silence_ns"] == view.silence_ns
        assert (row["frames_taken"], row["frames_lost"]) == (view.frames_taken, view.frames_lost)
        assert row["pressure_bar"] == view.air.pressure_bar
    assert {row["time_ns"] for row in golden["link"]} == {n * 60 * S for n in range(1, 11)}


def test_no_text_of_a_golden_export_is_an_abbreviation(golden: Found) -> None:
    """Words in capitals are EXERCISE and what people wrote, such as a name's first letter."""
    found: set[str] = set()
    for name, rows in golden.items():
        texts = [c.name for t in TABLES if t.name == name for c in t.columns if c.type is Type.TEXT]
        for row in rows:
            for column in texts:
                if column != "details":
                    found |= set(re.findall(r"\b[A-Z]{2,}\b", str(row[column] or "")))
    assert found == {"EXERCISE"}


# ---------------------------------------------------------------- journals made for one question


@pytest.fixture
def longer(tmp_path: Path) -> Callable[..., Path]:
    """The golden journal with a few rows more at its end, each one second after the one before."""

    def make(*facts: object, idle_ns: int = 0) -> Path:
        path = tmp_path / "longer.journal"
        path.write_bytes(GOLDEN.read_bytes())
        writer = JournalWriter.open(path)
        writer.begin_session("boot two", 0, 0, "outby test")
        t = writer.last.horizon
        for fact in facts:
            t += S
            row = fact if isinstance(fact, Row) else row_of(t, fact)  # type: ignore[arg-type]
            row.t = t
            writer.commit([row], t, Stamp(t, t))
        writer.commit([], t + idle_ns, Stamp(t, t))
        writer.close(final=True)
        return path

    return make


def test_each_order_has_a_row_a_wearer_with_every_answer(
    longer: Callable[..., Path], exported: Exporting, golden: Found
) -> None:
    """Wearer 7 goes in again; ordered out 3 s after the golden end, answers by voice 2 s later."""
    by = {"by": "R. Harrow"}
    path = longer(
        Connect(id="act-90001", wearers=(7,), pressure_bar=290, **by),
        Enter(id="act-90002", wearers=(7,), **by),
        GiveOrder(id="act-90003", order="evacuate", everybody=True, scope="everybody",
                  reason="roof", on_order_of="M. Slip", **by),
        Note(id="act-90004", text="smoke", **by),
        AnswerByVoice(id="act-90005", order=1, wearers=(7,), **by),
    )  # fmt: skip
    assert golden["orders"] == []
    rows = {row["wearer"]: row for row in exported(path)[1]["orders"]}
    row = rows[7]
    with JournalReader(GOLDEN) as reader:
        given = reader.last_batch().horizon + 3 * S
    assert (row["order"], row["what"], row["time_ns"]) == (1, "evacuate", given)
    assert (row["by"], row["on_order_of"], row["reason"]) == ("R. Harrow", "M. Slip", "roof")
    assert (row["voice_after_ns"], row["acknowledged_after_ns"], row["out_after_ns"]) == (
        2 * S, None, None,
    )  # fmt: skip
    assert row["clock"] == WALL_NS + given
    assert row["telemetry"] is True


def test_the_wall_clock_follows_every_fact_that_moves_it(
    longer: Callable[..., Path], exported: Exporting
) -> None:
    """A break, a step and a jump; the board's own wall clock after each is the reference."""
    facts = (
        Resumed(down_ns=5 * S, known_by="boot clock", wall_ns=WALL_NS + 9_000 * S),
        ClockStep(by_ns=-S, wall_ns=WALL_NS + 8_000 * S),
        TimeMoved(by_ns=3 * S, known_by="pack uptime"),
    )
    path = longer(*facts)
    rows = exported(path)[1]["facts"][-3:]
    incident, shown = Incident(), []
    with JournalReader(path) as reader:
        for step in reader.steps(reader.last_batch().last_row):
            for row in step:
                event = event_of(row)
                if event is not None:
                    incident.apply(event)
                if isinstance(event, Done) and event.what in facts:
                    shown.append(incident.wall_ns)
    assert [row["clock"] for row in rows] == shown
    # The step says it outright; the jump leaves the wall clock where it was: 1 s later, less 3.
    assert shown[1:] == [WALL_NS + 8_000 * S, WALL_NS + 8_001 * S - 3 * S]


def test_a_reading_by_voice_is_an_act_and_a_reading(
    longer: Callable[..., Path], exported: Exporting
) -> None:
    spoken = SpokenReading(id="spoken-01", by="R. Harrow", wearers=(5, 6), pressure_bar=180)
    found = exported(longer(spoken))[1]
    assert found["acts"][-1]["act"] == "spoken reading"
    rows = [row for row in found["readings"] if row["source"] == "voice"]
    assert [(row["wearer"], row["pressure_bar"]) for row in rows] == [(5, 180.0), (6, 180.0)]
    assert {row["row"] for row in rows} == {found["acts"][-1]["row"]}


def test_minutes_in_which_nothing_came_are_told_too(
    longer: Callable[..., Path], exported: Exporting
) -> None:
    """The golden journal ends at 610 s; two minutes more are full at 660 and 720 s."""
    found = exported(longer(idle_ns=120 * S))[1]
    assert max(int(str(row["time_ns"])) for row in found["link"]) == 720 * S
    assert found["incident"][0]["length_ns"] == 730 * S


@pytest.mark.parametrize(
    "row",
    [
        Row(0, RowKind.ACT, b"{}"),
        Row(0, RowKind.FRAME, b"x"),
        Row(0, RowKind.ANNOUNCED, b"[]"),
        Row(0, RowKind.ANNOUNCED, b"{}"),
    ],
)
def test_a_row_that_nobody_understands_ends_it(
    longer: Callable[..., Path], exported: Exporting, row: Row
) -> None:
    with pytest.raises(BadJournal, match=r"row \d+ is not to be understood"):
        exported(longer(row))


def test_the_capture_holds_every_frame_as_heard(journal_rows: list[Row]) -> None:
    file = BytesIO()
    progress: list[tuple[int, int]] = []
    writer = CaptureWriter(file, "outby test", "")
    done = Exporter(GOLDEN, {}, writer, "").run(lambda n, of: progress.append((n, of)))
    packets = [
        block
        for block in pcapng.FileScanner(BytesIO(file.getvalue()))
        if hasattr(block, "packet_data")
    ]
    frames = [row for row in journal_rows if row.kind is RowKind.FRAME]
    assert done.frames == len(frames) == len(packets)
    assert [packet.packet_data for packet in packets] == [frame.data for frame in frames]
    stamps = [packet.timestamp_high << 32 | packet.timestamp_low for packet in packets]
    assert stamps == [WALL_NS + frame.t - frame.late_ns for frame in frames]
    assert packets[0].interface.options["if_description"] == "udp 41900"
    told = [packet.options["opt_comment"] for packet in packets if "opt_comment" in packet.options]
    assert any(comment.startswith("not proven live, -") for comment in told)
    assert progress[-1] == (len(journal_rows), len(journal_rows))
