"""What was announced then is announced now; by other rules a difference is only told."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.archive.refold import Refolded, refold
from monitor.clock import Stamp
from monitor.incident.decoding import announced_row, event_of, row_of
from monitor.incident.events import Close, Fact, Resumed, Stall
from monitor.incident.incident import Incident
from monitor.incident.rows import Row, RowKind
from monitor.journal.verify import examine
from monitor.journal.writer import JournalWriter
from protocol.codec import decode_trusted, encode
from protocol.packets import Report
from tests.monitor.archive.conftest import GOLDEN, Remade

S = 1_000_000_000


def folded(path: Path) -> Refolded:
    found = examine(path)
    assert found.fault is None
    assert found.last is not None
    return refold(path, found.last)


def said(row: Row) -> dict[str, object]:
    found: dict[str, object] = json.loads(row.data)
    return found


def announced(rows: list[Row]) -> list[Row]:
    return [row for row in rows if row.kind is RowKind.ANNOUNCED]


def test_the_golden_journal_folds_to_what_was_announced(golden_rows: list[Row]) -> None:
    found = folded(GOLDEN)
    assert found.announced == len(announced(golden_rows)) > 0
    assert (found.count, found.fault, found.sound, found.closed) == (0, None, True, False)
    assert found.opened is not None
    assert found.opened.name == "Kiln Lane"


def test_a_frame_that_raised_an_alarm_and_was_made_harmless(remade: Remade) -> None:
    """The digests fit, since none of them is keyed; what was announced does not."""

    def harmless(rows: list[Row]) -> list[Row]:
        changed = []
        for row in rows:
            if row.kind is RowKind.FRAME:
                packet = decode_trusted(row.data)
                if isinstance(packet, Report) and packet.distress:
                    packet.distress = packet.keyed = False
                    packet.epoch = 0
                    row = replace(row, data=encode(packet, None))  # noqa: PLW2901
            changed.append(row)
        return changed

    found = folded(remade(harmless))
    assert not found.sound
    assert any("alarm" in one.what and "announced then, not now" in one.what
               for one in found.differences)  # fmt: skip
    distress = next(one for one in found.differences if "DISTRESS" in one.what)
    assert distress.row > 0
    assert 105 * S <= distress.t <= 110 * S


def test_frames_with_one_stamp_that_raise_an_alarm_twice_in_an_instant(remade: Remade) -> None:
    """A gateway hands over what it heard in a minute: distress, over, distress; one stamp."""

    def flapping(rows: list[Row]) -> list[Row]:
        heard = [row for row in rows if row.kind is RowKind.FRAME]
        last = next(r for r in reversed(heard) if isinstance(decode_trusted(r.data), Report))
        t = rows[-1].t + 600 * S
        more = [row for row in rows if row.kind is not RowKind.ANNOUNCED]
        for number, distress in enumerate((True, False, True, False, True), start=1):
            packet = decode_trusted(last.data)
            assert isinstance(packet, Report)
            packet.sequence += number
            packet.uptime_ms += 1000 * number
            packet.distress, packet.keyed, packet.epoch = distress, False, 0
            more.append(replace(last, t=t, data=encode(packet, None)))
        incident = Incident()
        for row in more:
            event = event_of(row)
            assert event is not None
            incident.apply(event)
        incident.advance(t + S)
        said = incident.take_announcements()
        assert len({(one.number, one.t, one.again) for one in said}) < len(said)
        return [*more, *(announced_row(t + S, one) for one in said)]

    found = folded(remade(flapping))
    assert found.differences == []
    assert (found.count, found.sound) == (0, True)


def test_an_announcement_that_was_taken_out(remade: Remade, golden_rows: list[Row]) -> None:
    first = announced(golden_rows)[0]
    found = folded(remade(lambda rows: [row for row in rows if row is not first]))
    assert found.count == 1
    (one,) = found.differences
    assert (one.row, one.t) == (0, said(first)["t"])
    assert one.what.endswith("announced now, not then")
    assert not found.sound


def test_an_announcement_that_says_something_else(remade: Remade, golden_rows: list[Row]) -> None:
    first = announced(golden_rows)[0]
    other = json.dumps(said(first) | {"wearers": [7]}).encode()
    found = folded(remade(lambda rows: [replace(r, data=other) if r is first else r for r in rows]))
    (one,) = found.differences
    assert f"wearers: [7] then, {said(first)['wearers']} now" in one.what
    assert one.row == golden_rows.index(first) + 1


def test_by_another_version_of_the_rules_differences_are_only_told(
    remade: Remade, golden_rows: list[Row]
) -> None:
    first = announced(golden_rows)[0]

    def older(rows: list[Row]) -> list[Row]:
        kept = [row for row in rows if row is not first]
        opened = json.loads(kept[0].data) | {"fold": 99}
        return [replace(kept[0], data=json.dumps(opened).encode()), *kept[1:]]

    found = folded(remade(older, fold=99))
    assert (found.fold, found.same_rules, found.count, found.sound) == (99, False, 1, True)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("use", "real", "another use"),
        ("incident", "0" * 32, "another incident"),
        ("software", "outby 9", "another software"),
        ("opened_wall_ns", 5, "another time of opening"),
    ],
)
def test_a_header_that_contradicts_the_first_row(
    remade: Remade, name: str, value: object, words: str
) -> None:
    found = folded(remade(**{name: value}))
    assert found.fault is not None
    assert words in str(found.fault)
    assert not found.sound


@pytest.mark.parametrize(
    "row",
    [
        Row(1, RowKind.ACT, b"{}"),
        Row(1, RowKind.FACT, b"\xff"),
        Row(1, RowKind.FRAME, b"\x01\x02"),
        Row(1, RowKind.ANNOUNCED, b"[]"),
        Row(1, RowKind.ANNOUNCED, b'{"number": 1}'),
        Row(1, RowKind.ANNOUNCED, b'{"number":"1","kind":"","word":"","priority":1,"t":1,'
            b'"wearers":[],"again":false}'),
    ],
)  # fmt: skip
def test_a_row_that_nobody_understands_is_named(remade: Remade, row: Row) -> None:
    """It stands last; the digest over it is right."""

    def with_it(rows: list[Row]) -> list[Row]:
        return [*rows, replace(row, t=rows[-1].t + 1)]

    found = folded(remade(with_it))
    assert found.fault is not None
    assert found.fault.first_row == found.fault.last_row > 700
    assert "not to be understood" in found.fault.what
    assert found.now > 0


def test_what_the_recorder_says_of_its_own_absence(remade: Remade) -> None:
    def away(rows: list[Row]) -> list[Row]:
        t = rows[-1].t
        facts: tuple[Fact, ...] = (
            Resumed(down_ns=5 * S, known_by="boot clock", wall_ns=1),
            Resumed(down_ns=0, known_by="unknown", wall_ns=1),
            Stall(from_ns=t, to_ns=t + 2 * S),
        )
        return [*rows, *(row_of(t + i + 1, fact) for i, fact in enumerate(facts))]

    found = folded(remade(away))
    assert (found.down_ns, found.unknown_breaks, found.stalled_ns) == (5 * S, 1, 2 * S)


def test_a_close_is_seen(remade: Remade) -> None:
    close = Close(id="close-0001", by="R. Harrow", override="test")
    assert folded(remade(lambda rows: [*rows, row_of(rows[-1].t + 1, close)])).closed


def test_only_what_is_right_is_folded(tmp_path: Path, golden_rows: list[Row]) -> None:
    """Up to a commit in the middle: nothing after it is read."""
    with_path = examine(GOLDEN)
    assert with_path.last is not None
    middle = with_path.last._replace(last_row=1, horizon=golden_rows[0].t)
    found = refold(GOLDEN, middle)
    assert (found.announced, found.count, found.now) == (0, 0, golden_rows[0].t)


def test_an_empty_journal(remade: Remade, tmp_path: Path) -> None:
    path = remade(lambda _: [])
    assert folded(path).opened is None
    writer = JournalWriter.open(path)
    with pytest.raises(AssertionError):
        writer.commit([], 0, Stamp(0, 0))
    writer.close(final=False)
