"""The order of rows, the horizon, acts, stalls and failing disks.

Limits (50 ms and 250 ms beats, 20 ms between urgent ones, a stall over 500 ms late, a clock step
over 1 s, an act dead after 10 s) are this program's own and stand in its architecture.
"""

from dataclasses import replace
from typing import Any

import pytest

from monitor.desk import Ask, NotTaken, Role, Taken
from monitor.incident.decoding import event_of
from monitor.incident.events import Close, Connect, LinkState
from monitor.incident.incident import Incident
from monitor.incident.rows import RowKind
from monitor.recorder.sequencer import ACT_IDS_MAX

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S


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


UDP = LinkState(link=1, name="udp", up=True)


@pytest.mark.parametrize(
    "comes",
    [
        lambda base: base.sequencer.link_state(UDP, base.stamp, wire=False),
        lambda base: base.sequencer.noticed(UDP, base.stamp),
        lambda base: base.ask(1, Connect(id="step-00001", by="R. Harrow", wearers=(1,))),
        lambda base: base.sequencer.left(1, base.stamp),
    ],
    ids=["a link", "a fact", "an act", "a board that goes"],
)
def test_whatever_comes_first_after_a_stall_the_stall_stands_before_it(
    base: Any, comes: Any
) -> None:
    base.hold()
    base.beat()
    base.wait(40 * S)
    comes(base)
    assert b'"stall"' in base.commit().rows[0].data
