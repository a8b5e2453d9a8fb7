"""The order of rows, the horizon, acts, stalls and failing disks.

Limits (50 ms and 250 ms beats, 20 ms between urgent ones, a stall over 500 ms late, a clock step
over 1 s, an act dead after 10 s) are this program's own and stand in its architecture.
"""

from dataclasses import replace
from typing import Any

import pytest

from monitor.checkpoint.recalled import Recalled
from monitor.desk import Ask, Held, Hello, NotTaken, Role, Taken
from monitor.incident.decoding import event_of
from monitor.incident.events import Close, Connect, Enter, LinkState
from monitor.incident.incident import Incident
from monitor.incident.picture import Signal
from monitor.incident.record.events import HandOver, PauseExercise, RealEmergency
from monitor.incident.rows import RowKind
from monitor.recorder.sequencer import ACT_IDS_MAX
from protocol.freshness import Fresh
from protocol.packets import Kind, Motion
from protocol.rejects import Reject

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S


@pytest.fixture
def base(make: Any) -> Any:
    return make.base(packs=[101])


@pytest.fixture
def pack(make: Any) -> Any:
    return make.pack(None)


def note_rows(base: Any) -> int:
    return sum(b'"what":"note"' in row.data for row in base.rows)


# ---------------------------------------------------------------- time and order


def test_the_first_row_opens_the_incident_at_time_zero(base: Any) -> None:
    batch = base.beat(10 * MS)
    assert b'"what":"opened"' in batch.rows[0].data
    assert batch.rows[0].t == 0
    assert batch.horizon == 10 * MS


def test_a_frame_has_the_time_of_its_stamp(base: Any, pack: Any) -> None:
    base.beat(10 * MS)
    base.wait(30 * MS)
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 25 * MS)
    (row,) = base.beat(10 * MS).rows
    assert (row.kind, row.t, row.late_ns, row.link) == (RowKind.FRAME, 25 * MS, 0, 1)


def test_a_frame_stamped_before_the_horizon_comes_just_after_it_and_says_so(
    base: Any, pack: Any
) -> None:
    base.beat(100 * MS)
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 40 * MS)
    (row,) = base.beat(10 * MS).rows
    assert row.t == 100 * MS + 1
    assert row.late_ns == 60 * MS + 1


def test_rows_never_go_back_though_stamps_of_two_links_do(base: Any, pack: Any) -> None:
    base.beat(10 * MS)
    base.wait(90 * MS)
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 60 * MS, link=1)
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 50 * MS, link=2)
    first, second = base.beat().rows
    assert (first.t, second.t, second.late_ns) == (60 * MS, 60 * MS, 10 * MS)


def test_a_stamp_ahead_of_the_beat_takes_the_horizon_with_it(base: Any, pack: Any) -> None:
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 15 * MS)
    assert base.beat(10 * MS).horizon == 15 * MS
    assert base.beat(1 * MS).horizon == 15 * MS
    assert base.beat(10 * MS).horizon == 21 * MS


def test_the_horizon_moves_with_nothing_to_say(base: Any) -> None:
    base.beat()
    batch = base.beat(250 * MS)
    assert (batch.rows, batch.horizon) == ([], 250 * MS)


def test_when_the_next_beat_is_due(base: Any, pack: Any) -> None:
    base.beat()
    assert base.sequencer.due_boot_ns() == base.boot_ns + 250 * MS
    base.hear(pack.frame(base.boot_ns))
    assert base.sequencer.due_boot_ns() == base.boot_ns + 50 * MS
    base.hold()
    assert base.sequencer.due_boot_ns() == base.boot_ns + 20 * MS


def test_an_alarm_sounds_before_its_row_is_committed(make: Any) -> None:
    base = make.base(packs=[101])
    pack = make.pack(None)
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns, distress=True))
    (said,) = base.sequencer.take_sounds()
    assert said.kind == "distress"
    assert base.sequencer.due_boot_ns() == base.boot_ns + 20 * MS
    assert base.sequencer.take_sounds() == []
    rows = base.beat(20 * MS).rows
    assert [row.kind for row in rows] == [RowKind.FRAME, RowKind.ANNOUNCED]
    assert rows[1].t == base.sequencer.horizon


# ---------------------------------------------------------------- stalls and clocks


def test_a_late_beat_is_no_stall_until_it_is_more_than_half_a_second_late(base: Any) -> None:
    base.beat()
    base.wait(750 * MS)
    base.commit()
    assert base.facts("stall") == []
    base.wait(750 * MS + 1)
    base.commit()
    (stall,) = base.facts("stall")
    assert (stall.what.from_ns, stall.what.to_ns) == (750 * MS, 1500 * MS + 1)


def test_a_stall_stands_before_what_was_heard_during_it(base: Any, pack: Any) -> None:
    base.beat()
    base.wait(40 * S)
    base.hear(pack.frame(base.boot_ns), at_ns=BOOT_NS + 20 * S)
    rows = base.beat(1 * MS).rows
    assert b'"stall"' in rows[0].data
    assert rows[0].t == 1
    assert (rows[1].kind, rows[1].t) == (RowKind.FRAME, 20 * S)
    assert len(base.facts("stall")) == 1


def test_after_a_stall_what_waits_is_committed_at_once(base: Any) -> None:
    base.beat()
    base.wait(40 * S)
    base.sequencer.board_beat(1, base.stamp)
    assert base.sequencer.due_boot_ns() <= base.boot_ns


@pytest.mark.parametrize(("by_ns", "told"), [(1 * S, 0), (1 * S + 1, 1), (-1 * S - 1, 1)])
def test_a_clock_that_is_set_by_more_than_a_second_is_told(
    base: Any, by_ns: int, told: int
) -> None:
    base.beat()
    base.wall_ns += by_ns
    base.beat(10 * MS)
    assert len(base.facts("clock_step")) == told


def test_no_pack_is_blamed_for_the_recorders_own_silence(make: Any) -> None:
    base = make.base(packs=[101])
    base.hold()
    pack = make.pack(None)
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns))
    base.beat(1 * S)
    base.wait(300 * S)
    base.beat()
    # Air runs on: of a cylinder that nobody described it does so soon. The link is not to blame.
    assert {said.kind for said in base.sequencer.take_sounds()} <= {"overdue", "turn_back"}
    base.beat(60 * S)
    assert "no_signal" in {said.kind for said in base.sequencer.take_sounds()}


def test_a_clock_that_is_set_is_told_and_moves_no_row(base: Any) -> None:
    base.beat()
    base.wall_ns += 1 * S
    base.beat(100 * MS)
    assert base.facts("clock_step") == []
    base.wall_ns -= 5 * S
    batch = base.beat(100 * MS)
    (step,) = base.facts("clock_step")
    assert step.what.by_ns == -4 * S
    assert batch.horizon == 200 * MS
    base.beat(100 * MS)
    assert len(base.facts("clock_step")) == 1


# ---------------------------------------------------------------- acts


def test_an_act_is_answered_taken_only_after_its_commit(base: Any, make: Any) -> None:
    base.hold()
    base.ask(1, make.note())
    batch = base.sequencer.next_batch(base.stamp)
    assert b'"what":"note"' in batch.rows[-1].data
    assert Taken(id="note-0001") in [a.message for a in base.sequencer.committed(batch.number)]


def test_an_act_asked_again_is_answered_again_and_does_nothing(base: Any, make: Any) -> None:
    base.hold()
    for _ in range(3):
        base.ask(1, make.note())
    base.beat()
    base.ask(1, make.note())
    base.beat()
    assert note_rows(base) == 1
    assert [a.message for a in base.answers].count(Taken(id="note-0001")) == 4


def test_a_refused_act_is_answered_with_the_reason_also_when_asked_again(
    base: Any, make: Any
) -> None:
    base.hold()
    base.ask(1, make.note(wearer=9))
    base.ask(1, make.note(wearer=9))
    base.beat()
    said = [a.message for a in base.answers if isinstance(a.message, NotTaken)]
    assert len(said) == 2
    assert "no wearer 9" in said[0].why
    assert note_rows(base) == 0


def test_an_act_older_than_ten_seconds_is_dead(base: Any, make: Any) -> None:
    base.hold()
    asked = Ask(act=make.note(), asked_boot_ns=base.boot_ns)
    base.beat(10 * S)
    base.wait(1)
    base.sequencer.asked(1, asked, base.stamp)
    base.beat()
    assert NotTaken(id="note-0001", why="Asked more than 10 s ago.") in [
        a.message for a in base.answers
    ]


def test_an_act_that_saw_a_later_screen_is_not_taken(base: Any, make: Any) -> None:
    base.hold()
    horizon = base.beat(1 * S).horizon
    base.ask(1, make.note("note-0001", seen_ns=horizon))
    base.ask(1, make.note("note-0002", seen_ns=horizon + 1))
    base.beat()
    assert note_rows(base) == 1


def test_answers_to_acts_are_not_kept_without_end(base: Any, make: Any) -> None:
    asks = [make.note(f"note-{n:05}") for n in range(ACT_IDS_MAX + 1)]
    for act in asks:
        base.ask(1, act)
    assert len(base.sequencer._act_answers) == ACT_IDS_MAX
    assert "note-00000" not in base.sequencer._act_answers


def test_the_role_is_told_to_all_when_the_holder_changes(base: Any) -> None:
    base.hold(1)
    base.beat()
    assert [(a.to, a.message.holder) for a in base.answers] == [(1, True)]
    base.hold(2)
    base.beat()
    assert [(a.to, a.message.holder) for a in base.answers[1:]] == [(2, False)]
    base.sequencer.left(1, base.stamp)
    base.beat()
    assert [(a.to, a.message) for a in base.answers[2:]] == [
        (2, Role(holder=False, by="", incident="ab" * 16, fold=1))
    ]
    assert [(h.what.board, h.what.by) for h in base.facts("holder")] == [
        ("board 1", "R. Harrow"),
        ("", ""),
    ]


def test_a_board_that_draws_keeps_the_desk(base: Any) -> None:
    base.hold(1)
    base.beat(4 * S)
    base.hold(2)
    assert base.sequencer.holds(1)
    base.drawing = False
    base.beat(4 * S)
    base.hold(2)
    assert base.sequencer.holds(2)


def test_after_close_nothing_more_is_recorded(base: Any, pack: Any, make: Any) -> None:
    base.hold()
    base.ask(1, Close(id="close-0001", by="R. Harrow", override="trial"))
    # Nothing is in flight yet, and yet the close is still to be committed.
    assert (base.sequencer.in_flight, base.sequencer.done) == (0, False)
    batch = base.sequencer.next_batch(base.stamp)
    assert batch.closes
    assert not base.sequencer.done
    base.answers += base.sequencer.committed(batch.number)
    assert base.sequencer.done
    base.rows += batch.rows
    count = len(base.rows)
    base.hear(pack.frame(base.boot_ns))
    base.ask(1, make.note())
    base.hold(2)
    base.sequencer.left(1, base.stamp)
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    base.wait(10 * S)
    assert base.commit().rows == []
    assert len(base.rows) == count
    assert NotTaken(id="note-0001", why="The incident is closed.") in [
        a.message for a in base.answers
    ]
    assert base.sequencer.next_batch(base.stamp) is None


# ---------------------------------------------------------------- a disk that takes nothing


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


# ---------------------------------------------------------------- journal and fold


def test_a_refold_of_the_rows_gives_the_recorders_own_picture(make: Any) -> None:
    keyring = make.keyring()
    base, packs = make.base(keyring, [101, 102]), [make.pack(keyring, i) for i in (101, 102)]
    for pack in packs:
        make.live(base, pack)
    for step in range(40):
        base.beat(1 * S)
        for pack in packs[: 1 if step > 10 else 2]:
            base.hear(pack.frame(base.boot_ns, pressure_dbar=1500 - step))
    base.beat(60 * S)
    again = Incident()
    for row in base.rows:
        event = event_of(row)
        if event is not None:
            again.apply(event)
    again.advance(base.sequencer.horizon)
    assert again.picture() == base.sequencer.incident.picture()
    assert replace(again.picture(), t=0) != replace(make.base().sequencer.incident.picture(), t=0)


# ---------------------------------------------------------------- is anybody looking


def boards(base: Any) -> list[tuple[int, bool]]:
    return [(done.t, done.what.alive) for done in base.facts("boards_alive")]


def test_a_board_that_draws_is_worth_no_row(base: Any) -> None:
    base.hold()
    base.beat(60 * S)
    assert boards(base) == []


def test_a_board_that_stops_drawing_is_a_danger_after_3_s_until_it_draws_again(base: Any) -> None:
    base.hold()
    base.beat(1 * S)
    base.drawing = False
    base.beat(3 * S)
    assert base.sequencer.take_sounds() == []
    base.beat(1 * MS)
    (said,) = base.sequencer.take_sounds()
    assert (said.kind, said.word, said.t) == ("no_board", "NO BOARD ALIVE", 4 * S + 1 * MS)
    base.drawing = True
    base.beat(1 * S)
    assert boards(base) == [(4 * S + 1 * MS, False), (4 * S + 251 * MS, True)]
    assert base.sequencer.incident.picture().alarms == ()


def test_with_no_board_at_all_somebody_under_air_is_a_danger_too(base: Any) -> None:
    base.beat(3 * S)
    assert base.sequencer.take_sounds() == []
    base.beat(1 * MS)
    assert [said.kind for said in base.sequencer.take_sounds()] == ["no_board"]


def test_with_nobody_under_air_a_board_may_go(make: Any) -> None:
    base = make.base()
    base.beat(60 * S)
    assert [alive for _, alive in boards(base)] == [False]
    assert base.sequencer.take_sounds() == []


def test_a_script_is_nobody_who_looks(base: Any) -> None:
    base.sequencer.hello(1, Hello(board="s", by="script", want="script"), base.stamp)
    base.beat(4 * S)
    assert [said.kind for said in base.sequencer.take_sounds()] == ["no_board"]


def test_no_board_is_blamed_for_the_recorders_own_silence(base: Any) -> None:
    base.hold()
    base.beat(2 * S)
    base.wait(300 * S)
    # The beat of the recorder comes first, what boards have sent meanwhile after it.
    batch = base.sequencer.next_batch(base.stamp)
    base.sequencer.committed(batch.number)
    base.beat(1 * S)
    assert boards(base) == []


# ---------------------------------------------------------------- an exercise that stands still


def pause(base: Any, act_id: str, *, on: bool = True) -> None:
    base.ask(1, PauseExercise(id=act_id, by="R. Harrow", on=on))


def test_time_stands_still_while_an_exercise_is_paused(base: Any, pack: Any) -> None:
    base.hold()
    base.beat(1 * S)
    pause(base, "pause-001")
    before = base.beat(20 * MS).horizon
    for _ in range(40):
        assert 0 < base.beat(250 * MS).horizon - before < 1_000
    pause(base, "pause-002", on=False)
    after = base.beat(20 * MS)
    (went_on,) = base.facts("went_on")
    # 40 beats of 250 ms and the 20 ms before the first and after the last of them.
    assert went_on.what.stood_ns == 10 * S + 20 * MS
    assert after.horizon - before < 1_000 + 20 * MS
    assert base.beat(1 * S).horizon - after.horizon == 1 * S


def test_nothing_falls_due_and_no_pack_is_missed_meanwhile(base: Any, pack: Any, make: Any) -> None:
    make.live(base, pack)
    base.hold()
    for number, act in enumerate((Connect, Enter)):
        base.ask(1, act(id=f"step-{number:05}", by="R. Harrow", wearers=(1,)))
    base.beat(20 * MS)
    pause(base, "pause-001")
    for _ in range(40):
        base.beat(5 * S)
    assert base.sequencer.incident.picture().alarms == ()
    pause(base, "pause-002", on=False)
    base.beat(20 * MS)
    assert base.sequencer.incident.picture().alarms == ()
    assert "NO SIGNAL" not in [alarm.word for alarm in base.sequencer.incident.picture().alarms]


def test_a_frame_heard_meanwhile_comes_at_the_time_that_stands(base: Any, pack: Any) -> None:
    base.hold()
    base.beat(1 * S)
    pause(base, "pause-001")
    before = base.beat(20 * MS).horizon
    base.wait(30 * S)
    base.hear(pack.frame(base.boot_ns))
    (row,) = [row for row in base.beat().rows if row.kind is RowKind.FRAME]
    assert 0 < row.t - before < 1_000
    assert 0 <= row.late_ns < 1_000


def test_a_script_acts_at_an_exercise(base: Any, make: Any) -> None:
    base.sequencer.hello(2, Hello(board="s", by="drill script", want="script"), base.stamp)
    base.ask(2, make.note(by="drill script"))
    assert [a.message for a in base.commit().answers] == [Taken(id="note-0001")]


def test_a_real_emergency_ends_the_pause_and_keeps_scripts_out(base: Any) -> None:
    base.hold()
    pause(base, "pause-001")
    before = base.beat(20 * MS).horizon
    base.beat(5 * S)
    base.ask(1, RealEmergency(id="real-0001", by="R. Harrow"))
    base.beat(20 * MS)
    assert base.sequencer.incident.picture().use == "real"
    assert base.beat(1 * S).horizon - before >= 1 * S
    base.sequencer.hello(2, Hello(board="s", by="drill script", want="script"), base.stamp)
    base.ask(2, PauseExercise(id="pause-002", by="drill script"))
    (answer,) = [a.message for a in base.commit().at_once if isinstance(a.message, NotTaken)]
    assert answer.why == "A script may not act at a real incident."


def test_time_goes_on_through_a_real_emergency_that_nothing_was_paused_before(base: Any) -> None:
    base.hold()
    before = base.beat(20 * MS).horizon
    base.ask(1, RealEmergency(id="real-0001", by="R. Harrow"))
    for _ in range(30):
        base.beat(1 * S)
    assert base.beat(20 * MS).horizon - before == 30 * S + 20 * MS


def test_whoever_gets_the_board_is_told_so_and_acts_in_that_name(base: Any) -> None:
    base.hold()
    base.beat(20 * MS)
    base.ask(1, HandOver(id="over-0001", by="R. Harrow", to="M. Slip"))
    batch = base.beat(20 * MS)
    roles = [a.message for a in batch.at_once if isinstance(a.message, Role)]
    assert [(role.holder, role.by) for role in roles] == [(True, "M. Slip")]
    assert base.facts("holder")[-1].what.by == "M. Slip"
