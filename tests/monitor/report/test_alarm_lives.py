from collections.abc import Callable

import pytest

from monitor.incident import events
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Aside, Engine, Key
from monitor.incident.picture import Priority
from monitor.report.alarm_lives import LIVES_MAX, AlarmLife, AlarmLives, Answer, Spell

S = 1_000_000_000
MINUTE = 60 * S
OVERDUE = Key(Kind.OVERDUE, wearer=2)
DISTRESS = Key(Kind.DISTRESS, wearer=1)
NO_SIGNAL = Key(Kind.NO_SIGNAL, wearer=3)
BY = "R. Harrow"


class Watched:
    """An engine whose steps go into the record."""

    def __init__(self) -> None:
        self.engine = Engine()
        self.engine.keep_steps()
        self.lives = AlarmLives()

    def life(self, number: int = 1) -> AlarmLife:
        for step in self.engine.take_steps():
            self.lives.step(step, lambda _number: None)
        return self.lives.by_number[number]


@pytest.fixture
def watched() -> Watched:
    return Watched()


def test_from_the_first_condition_to_the_end(watched: Watched) -> None:
    watched.engine.put(OVERDUE, 10, condition=True)
    watched.engine.acknowledge(1, BY, 25)
    watched.engine.put(OVERDUE, 60, condition=False)
    life = watched.life()
    assert (life.raised_ns, life.cleared_ns, life.ended_ns) == (10, 60, 60)
    assert life.conditions == life.lines == [Spell(10, 60)]
    (wait,) = life.waits
    assert (wait.spell, wait.answer, wait.by) == (Spell(10, 25), Answer.TAKEN, BY)
    assert (life.wearers, life.word) == ({2}, "OVERDUE")


def test_one_that_went_before_anybody_took_it_waits_on_without_its_condition(
    watched: Watched,
) -> None:
    watched.engine.put(OVERDUE, 10, condition=True)
    watched.engine.put(OVERDUE, 20, condition=False)
    watched.engine.put(OVERDUE, 30, condition=True)
    watched.engine.acknowledge(1, BY, 40)
    life = watched.life()
    assert [t for t, _ in life.began] == [10, 30]
    assert life.conditions == [Spell(10, 20), Spell(30)]
    # The officer answered once, and had been asked since 10.
    assert [(w.spell, w.answer) for w in life.waits] == [(Spell(10, 40), Answer.TAKEN)]


def test_one_that_became_more_urgent_begins_to_wait_again(watched: Watched) -> None:
    watched.engine.put(NO_SIGNAL, 10, condition=True)
    watched.engine.acknowledge(1, BY, 20)
    watched.engine.put(NO_SIGNAL, 30, Priority.DANGER, condition=True)
    life = watched.life()
    assert life.began == [(10, Priority.CAUTION), (30, Priority.DANGER)]
    assert [w.answer for w in life.waits] == [Answer.TAKEN, Answer.WAITS]
    assert life.priority is Priority.DANGER


def test_who_joins_a_line_that_waits_makes_no_alarm_more(watched: Watched) -> None:
    """One line and one sound, however many come to be in it before it is taken."""
    packs = Key(Kind.PACK_OFF)
    watched.engine.put(packs, 10, condition=True, wearers=(1,))
    watched.engine.put(packs, 20, condition=True, wearers=(1, 2))
    watched.engine.put(packs, 30, condition=True, wearers=(1, 2, 3))
    life = watched.life()
    assert life.began == [(10, Priority.DANGER)]
    assert life.wearers == {1, 2, 3}
    assert len(watched.engine.take_announcements()) == 1


def test_held_back_by_the_rules_is_not_taken_by_anybody(watched: Watched) -> None:
    watched.engine.put(NO_SIGNAL, 10, condition=True)
    watched.engine.put(NO_SIGNAL, 20, condition=True, held=True)
    watched.engine.put(NO_SIGNAL, 30, condition=True, held=False)
    life = watched.life()
    assert life.lines == [Spell(10, 20), Spell(30)]
    assert [w.answer for w in life.waits] == [Answer.HELD_BACK, Answer.WAITS]
    assert life.held_back == 1


def test_a_notice_counts_as_taken_by_nobody(watched: Watched) -> None:
    watched.engine.put(Key(Kind.PRE_ALARM, wearer=4), 10, condition=True)
    (wait,) = watched.life().waits
    assert (wait.answer, wait.by) == (Answer.BY_ITSELF, "")


def test_a_reset_has_its_reason(watched: Watched) -> None:
    watched.engine.put(DISTRESS, 10, condition=True)
    watched.engine.acknowledge(1, BY, 20)
    watched.engine.put(DISTRESS, 30, condition=False)
    watched.engine.reset(1, 40)
    watched.life()
    act = events.Reset(id="act-00001", by=BY, alarm=1, reason="found well")
    watched.lives.act(40, act)
    life = watched.life()
    assert life.reset == (40, BY, "found well")
    assert (life.cleared_ns, life.ended_ns) == (30, 40)


AsideEnd = Callable[[Engine], None]


@pytest.mark.parametrize(
    ("t", "end", "how"),
    [
        (10 * MINUTE, lambda engine, t: engine.take_back(1, t), "its time was over"),
        (
            9 * MINUTE,
            lambda engine, t: engine.take_back(1, t),
            "its wearer went off air or changed packs",
        ),
        (
            9 * MINUTE,
            lambda engine, t: engine.put(NO_SIGNAL, t, Priority.DANGER, condition=True),
            "it became more urgent",
        ),
        (
            9 * MINUTE,
            lambda engine, t: engine.put(NO_SIGNAL, t, condition=True, held=True),
            "held back by the rules",
        ),
    ],
)
def test_put_aside_ends_by_its_time_or_before(
    watched: Watched, t: int, end: Callable[[Engine, int], None], how: str
) -> None:
    watched.engine.put(NO_SIGNAL, 0, condition=True)
    watched.engine.put_aside(1, Aside(10 * MINUTE, BY, "known dead spot"), 0)
    watched.life()
    act = events.PutAside(id="act-00001", by=BY, alarm=1, minutes=10, reason="known dead spot")
    watched.lives.act(0, act)
    end(watched.engine, t)
    (aside,) = watched.life().asides
    assert (aside.spell, aside.minutes, aside.reason) == (Spell(0, t), 10, "known dead spot")
    assert aside.ended == how


def test_taken_back_by_the_officer_says_so(watched: Watched) -> None:
    watched.engine.put(NO_SIGNAL, 0, condition=True)
    watched.engine.put_aside(1, Aside(10 * MINUTE, BY, "dead spot"), 0)
    watched.life()
    put = events.PutAside(id="act-00001", by=BY, alarm=1, minutes=10, reason="dead spot")
    watched.lives.act(0, put)
    watched.engine.take_back(1, 5 * MINUTE)
    watched.life()
    watched.lives.act(5 * MINUTE, events.TakeBack(id="act-00002", by=BY, alarm=1))
    (aside,) = watched.life().asides
    assert aside.ended == f"taken back by {BY}"


def test_announced_again_is_counted(watched: Watched) -> None:
    watched.engine.put(DISTRESS, 10, condition=True)
    watched.life()
    watched.lives.announced_again(1)
    watched.lives.announced_again(7)
    assert watched.life().insisted == 1


def test_a_subject_without_a_line_is_told_by_its_number(watched: Watched) -> None:
    watched.engine.put(Key(Kind.DISTRESS, pack=301), 1, condition=True)
    watched.engine.put(Key(Kind.RECEIVER_DOWN, link=2), 1, condition=True)
    watched.engine.put(Key(Kind.TURN_BACK, crew="Alpha 1"), 1, condition=True)
    watched.engine.put(Key(Kind.DISK), 1, condition=True)
    watched.life()
    told = [life.subject for life in watched.lives.in_order()]
    assert told == ["pack 301", "link 2", "Alpha 1", "base"]


def test_what_is_too_much_is_counted(watched: Watched) -> None:
    step_of = watched.engine
    step_of.put(OVERDUE, 1, condition=True)
    step_of.acknowledge(1, BY, 2)
    raised, taken = step_of.take_steps()
    for number in range(LIVES_MAX + 2):
        watched.lives.step(raised._replace(number=number), lambda _number: None)
    watched.lives.step(taken._replace(number=LIVES_MAX + 1), lambda _number: None)
    assert (len(watched.lives.by_number), watched.lives.left_out) == (LIVES_MAX, 2)
    watched.lives.act(3, events.Reset(id="act-00001", by=BY, alarm=LIVES_MAX + 1, reason="x"))
