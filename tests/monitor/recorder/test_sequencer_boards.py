"""Who looks on and who acts: boards that stop drawing, scripts, an exercise that stands still."""

from typing import Any

from monitor.desk import Hello, NotTaken, Role, Taken
from monitor.incident.events import Connect, Enter
from monitor.incident.record.events import HandOver, PauseExercise, RealEmergency
from monitor.incident.rows import RowKind

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S


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
