import json
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import announced_row, event_of, row_of
from monitor.incident.events import Done, Heard
from monitor.incident.picture import Priority
from monitor.incident.rows import Row, RowKind, Standing
from protocol.codec import encode
from protocol.packets import Beacon

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story


def test_a_frame_becomes_what_was_heard(story: "Story") -> None:
    story.hear(5, distress=True)
    heard = story.events[-1]
    assert isinstance(heard, Heard)
    frame = encode(heard.packet, bytes(32))
    row = Row(5, RowKind.FRAME, frame, 2, 7, Standing.NOT_PROVEN, -71)
    assert event_of(row) == Heard(5, heard.packet, Standing.NOT_PROVEN, 2, 7, -71)


@pytest.mark.parametrize(
    "data",
    [b"", b"rubbish", encode(Beacon(1, 1, 1, 0, keyed=False, value=5), None)],
)
def test_a_row_that_holds_no_packs_frame_is_a_damaged_journal(data: bytes) -> None:
    with pytest.raises(ValueError, match="frame"):
        event_of(Row(5, RowKind.FRAME, data))


def test_a_frame_of_another_version_is_not_read_as_one_of_this(story: "Story") -> None:
    story.hear(5)
    heard = story.events[-1]
    assert isinstance(heard, Heard)
    frame = encode(heard.packet, bytes(32))
    other = bytes([frame[0] + 1]) + frame[1:]
    with pytest.raises(ValueError, match="version"):
        event_of(Row(5, RowKind.FRAME, other))


def test_acts_and_facts_go_there_and_back(story: "Story") -> None:
    act = story.make(events.Connect, wearers=(1, 2), pressure_bar=290.5)
    row = row_of(7, act)
    assert (row.kind, row.t) == (RowKind.ACT, 7)
    assert event_of(row) == Done(7, act)
    opened = story.incident.opened
    assert opened is not None
    row = row_of(0, opened)
    assert row.kind is RowKind.FACT
    assert event_of(row) == Done(0, opened)


@pytest.mark.parametrize("kind", [RowKind.ACT, RowKind.FACT])
def test_rubbish_in_a_row_is_a_damaged_journal(kind: RowKind) -> None:
    with pytest.raises(ValueError, match="JSON"):
        event_of(Row(5, kind, b"{"))


def test_an_announcement_is_evidence_and_no_event() -> None:
    said = Announcement(3, "low_air", "LOW AIR", Priority.DANGER, 5, (1,), again=False)
    row = announced_row(6, said)
    assert event_of(row) is None
    assert json.loads(row.data) == {
        "number": 3,
        "kind": "low_air",
        "word": "LOW AIR",
        "priority": 1,
        "t": 5,
        "wearers": [1],
        "again": False,
    }
