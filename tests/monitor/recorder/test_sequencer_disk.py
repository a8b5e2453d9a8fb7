"""The sequencer while no disk takes rows: batches in flight, acts held, memory full."""

from typing import Any

import pytest

from monitor.checkpoint.recalled import Recalled
from monitor.desk import Held, NotTaken, Role, Taken
from monitor.incident.decoding import event_of
from monitor.incident.incident import Incident
from monitor.incident.picture import Signal
from monitor.incident.rows import RowKind
from protocol.freshness import Fresh
from protocol.packets import Kind, Motion
from protocol.rejects import Reject

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S


def test_batches_are_in_flight_together_and_each_answer_waits_for_its_own(
    base: Any, pack: Any, make: Any
) -> None:
    base.hold()
    base.ask(1, make.note())
    first = base.sequencer.next_batch(base.stamp)
    base.wait(10 * MS)
    base.hear(pack.frame(base.boot_ns))
    base.ask(1, make.note("note-0002"))
    second = base.sequencer.next_batch(base.stamp)
    assert (first.number, second.number, base.sequencer.in_flight) == (1, 2, 2)
    rows = first.rows + second.rows
    assert [row.t for row in rows] == sorted(row.t for row in rows)
    assert sum(b'"what":"note"' in row.data for row in rows) == 2
    assert base.sequencer.committed(0) == []
    said = [a.message for a in base.sequencer.committed(1)]
    assert Taken(id="note-0001") in said
    assert Taken(id="note-0002") not in said
    assert [a.message for a in base.sequencer.committed(2)] == [Taken(id="note-0002")]
    assert base.sequencer.in_flight == 0


def test_which_batches_are_in_flight(base: Any) -> None:
    found = []
    for number in (1, 2, 3):
        base.sequencer.next_batch(base.stamp)
        found.append((base.sequencer.in_flight, base.sequencer.oldest_in_flight))
        base.wait(20 * MS * number)
    base.sequencer.committed(2)
    found.append((base.sequencer.in_flight, base.sequencer.oldest_in_flight))
    assert found == [(1, 1), (2, 1), (3, 1), (1, 3)]


def test_one_word_of_the_disk_answers_all_that_was_before(base: Any, make: Any) -> None:
    base.hold()
    for number in range(1, 4):
        base.ask(1, make.note(f"note-{number:04}"))
        base.sequencer.next_batch(base.stamp)
    said = [a.message.id for a in base.sequencer.committed(3) if isinstance(a.message, Taken)]
    assert said == ["note-0001", "note-0002", "note-0003"]


def test_a_disk_that_takes_nothing_slows_no_beat(base: Any, pack: Any) -> None:
    for _ in range(10):
        base.sequencer.next_batch(base.stamp)
        base.hear(pack.frame(base.boot_ns))
        assert base.sequencer.due_boot_ns() == base.boot_ns + 50 * MS
        base.wait(50 * MS)


def filled(make: Any) -> tuple[Any, Any]:
    """A base whose memory is full of rows that no disk takes, and a pack heard once a second."""
    base, pack = make.base(packs=[101], rows_max=20), make.pack(None)
    make.live(base, pack)
    for _ in range(25):
        base.wait(1 * S)
        base.hear(pack.frame(base.boot_ns))
        base.rows += base.sequencer.next_batch(base.stamp).rows
    return base, pack


def test_with_memory_full_a_quiet_pack_is_kept_in_short_and_counts_as_heard(make: Any) -> None:
    """60 s of a report a second: at 1 Hz a gap is 4 s (three reports and one), so none may show."""
    base, pack = filled(make)
    before, rows, incident = base.sequencer.thinned, 0, base.sequencer.incident
    for second in range(60):
        base.wait(1 * S)
        base.hear(pack.frame(base.boot_ns, pressure_dbar=2_000 - second, interval_s=1))
        batch = base.sequencer.next_batch(base.stamp)
        base.rows += batch.rows
        rows += sum(row.kind is RowKind.FRAME for row in batch.rows)
        (wearer,) = incident.picture().wearers
        assert wearer.signal == Signal.HEARD
        assert (wearer.silence_ns, wearer.air.pressure_bar) == (0, (2_000 - second) / 10)
    # The first has another interval than those before; then one is kept whole each 30 s.
    assert (rows, base.sequencer.thinned - before) == (2, 58)
    assert (wearer.frames_taken, wearer.frames_lost) == (pack.sequence, 0)
    assert refolded(base).picture() == incident.picture()


def refolded(base: Any) -> Incident:
    """What somebody who reads the rows makes of them."""
    again = Incident()
    for row in base.rows:
        event = event_of(row)
        if event is not None:
            again.apply(event)
    again.advance(base.sequencer.horizon)
    return again


def test_memory_is_full_with_the_last_row_that_it_takes(make: Any) -> None:
    base = make.base(packs=[101], rows_max=10)
    pack = make.pack(None)
    rows, seen = 0, set()
    for _ in range(8):
        base.hear(pack.frame(base.boot_ns))
        rows += len(base.sequencer.next_batch(base.stamp).rows)
        seen.add(rows)
        assert base.intake.full is (rows >= 10)
        base.wait(50 * MS)
    assert {9, 10} <= seen


def test_with_memory_full_low_air_sounds_with_the_next_batch(make: Any) -> None:
    """The plain procedure's low air is 35 % of 300 bar, 105; no warning of the set's own comes."""
    base, pack = filled(make)
    for dbar in (1_100, 1_060, 1_040, 1_040):
        base.wait(1 * S)
        base.hear(pack.frame(base.boot_ns, pressure_dbar=dbar))
        base.sequencer.next_batch(base.stamp)
    assert "low_air" in {said.kind for said in base.sequencer.take_sounds()}


def test_frames_kept_in_short_are_told_before_what_was_heard_after_them(make: Any) -> None:
    base, pack = filled(make)
    base.hear(
        pack.frame(base.boot_ns), pack.frame(base.boot_ns), pack.frame(base.boot_ns, distress=True)
    )
    kinds = [row.kind for row in base.sequencer.next_batch(base.stamp).rows]
    assert kinds[:2] == [RowKind.FACT, RowKind.FRAME]
    (wearer,) = base.sequencer.incident.picture().wearers
    assert (wearer.frames_taken, wearer.frames_lost) == (pack.sequence, 0)


def test_a_frame_kept_in_short_is_not_taken_again_after_a_restart(make: Any) -> None:
    base, pack = filled(make)
    base.wait(1 * S)
    kept = pack.frame(base.boot_ns)
    base.hear(kept)
    base.rows += base.sequencer.next_batch(base.stamp).rows
    assert base.rows[-1].kind is RowKind.FACT
    known = Recalled()
    known.take(base.rows)
    assert known.fresh[101].take(3, pack.sequence, kept) is Reject.REPEATED
    assert known.fresh[101].take(3, pack.sequence + 1, kept) is Fresh.NEW


@pytest.mark.parametrize(
    "news",
    [
        {"distress": True}, {"motion": Motion.ALARM}, {"motion": Motion.PRE_ALARM},
        {"low_air": True}, {"coming_out": True}, {"kind": Kind.EVENT}, {"order_received": 1},
        {"pressure_dbar": None}, {"boot": 4}, {"gas_temperature_c": 30}, {"battery_percent": 79},
    ],
    ids=str,
)  # fmt: skip
def test_with_memory_full_whatever_is_new_is_let_through(make: Any, news: Any) -> None:
    base, pack = filled(make)
    base.wait(1 * S)
    base.hear(pack.frame(base.boot_ns))
    base.wait(1 * MS)
    base.hear(pack.frame(base.boot_ns, **news))
    rows = base.sequencer.next_batch(base.stamp).rows
    assert [row.kind for row in rows].count(RowKind.FRAME) >= 1


@pytest.mark.parametrize(
    "news", [{"low_air": True}, {"distress": True}, {"coming_out": True}], ids=str
)
def test_with_memory_full_nothing_is_like_a_frame_that_is_not_the_present_state(
    make: Any, news: Any
) -> None:
    """A frame held up for 20 s, or overtaken, tells no state; the next that says the same does."""
    base, pack = filled(make)
    base.wait(1 * S)
    overtaken, newer = pack.frame(base.boot_ns, **news), pack.frame(base.boot_ns)
    held = pack.frame(base.boot_ns - 20 * S, **news)
    for before in ([newer, overtaken], [held]):
        base.hear(*before)
        base.sequencer.next_batch(base.stamp)
        base.wait(1 * S)
        base.hear(pack.frame(base.boot_ns, **news))
        batch = base.sequencer.next_batch(base.stamp)
        assert RowKind.FRAME in {row.kind for row in batch.rows}
        base.wait(1 * S)
        base.hear(pack.frame(base.boot_ns))
        base.sequencer.next_batch(base.stamp)


def test_with_memory_full_acts_are_taken_and_a_distress_sounds(make: Any) -> None:
    base, pack = filled(make)
    base.hold()
    base.ask(1, make.note())
    base.wait(1 * MS)
    base.hear(pack.frame(base.boot_ns, distress=True))
    assert "distress" in [said.kind for said in base.sequencer.take_sounds()]
    batch = base.sequencer.next_batch(base.stamp)
    assert [a.message for a in batch.answers] == [Taken(id="note-0001")]
    base.sequencer.committed(batch.number)
    base.wait(1 * S)
    base.hear(pack.frame(base.boot_ns))
    assert RowKind.FRAME in {row.kind for row in base.beat(1 * MS).rows}


def test_what_waits_for_no_disk_is_said_with_the_batch(base: Any, make: Any) -> None:
    base.hold()
    base.ask(1, make.note(wearer=9))
    base.ask(1, make.note("note-0002"))
    batch = base.sequencer.next_batch(base.stamp)
    assert [type(a.message) for a in batch.at_once] == [Role, NotTaken]
    assert [a.message for a in batch.answers] == [Taken(id="note-0002")]


def test_an_act_that_waits_for_the_disk_is_held_after_half_a_second_and_said_once(
    base: Any, make: Any
) -> None:
    base.hold()
    base.ask(1, make.note())
    base.sequencer.next_batch(base.stamp)
    base.wait(400 * MS)
    base.ask(1, make.note("note-0002"))
    batch = base.sequencer.next_batch(base.stamp)
    base.wait(100 * MS - 1)
    assert base.sequencer.held(base.stamp) == []
    base.wait(1)
    assert [(a.to, a.message) for a in base.sequencer.held(base.stamp)] == [
        (1, Held(id="note-0001", sent=False))
    ]
    assert base.sequencer.held(base.stamp) == []
    base.wait(400 * MS)
    assert [a.message.id for a in base.sequencer.held(base.stamp)] == ["note-0002"]
    said = [a.message for a in base.sequencer.committed(batch.number)]
    assert said == [Taken(id="note-0001"), Taken(id="note-0002")]


def test_an_order_that_has_gone_to_nobody_is_not_said_to_be_sent(base: Any, make: Any) -> None:
    """No pack of the roster has been heard yet: there is no address to send it to."""
    base.hold()
    base.ask(1, make.evacuate())
    assert make.orders(base.sequencer.next_batch(base.stamp)) == []
    base.wait(500 * MS)
    (answer,) = base.sequencer.held(base.stamp)
    assert answer.message == Held(id="order-001", sent=False)


def test_so_is_an_act_of_the_very_first_batch(base: Any, make: Any) -> None:
    base.hold()
    base.ask(1, make.note())
    base.sequencer.next_batch(base.stamp)
    base.wait(500 * MS)
    assert [a.message.id for a in base.sequencer.held(base.stamp)] == ["note-0001"]


def test_an_order_that_was_sent_says_so_while_no_disk_has_it(make: Any) -> None:
    base, pack = make.base(packs=[101]), make.pack(None)
    base.hold()
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns))
    base.beat(50 * MS)
    base.ask(1, make.evacuate())
    assert make.orders(base.sequencer.next_batch(base.stamp))
    base.wait(500 * MS)
    (held,) = [a.message for a in base.sequencer.held(base.stamp)]
    assert held == Held(id="order-001", sent=True)
