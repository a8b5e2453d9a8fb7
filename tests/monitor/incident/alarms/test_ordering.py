import pytest

from monitor.incident.alarms import ordering
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Alarm, Engine, Key
from monitor.incident.alarms.ranking import NOTHING, Known
from monitor.incident.picture import Priority

DISTRESS = Key(Kind.DISTRESS, wearer=1)
LOW_AIR = Key(Kind.LOW_AIR, wearer=2)
NO_SIGNAL = Key(Kind.NO_SIGNAL, wearer=3)
PRE_ALARM = Key(Kind.PRE_ALARM, wearer=4)


@pytest.fixture
def engine() -> Engine:
    return Engine()


def no_crew(alarm: Alarm) -> str:
    return ""


def no_air(alarm: Alarm) -> Known:
    return NOTHING


def in_pairs(alarm: Alarm) -> str:
    """Wearers 1 and 2 are Alpha 1, 3 and 4 Alpha 2, and so on; the base is of no crew."""
    return f"Alpha {(alarm.key.wearer + 1) // 2}" if alarm.key.wearer else ""


def test_urgency_then_waiting_before_taken_then_age(engine: Engine) -> None:
    engine.put(NO_SIGNAL, 1, condition=True)
    engine.put(LOW_AIR, 2, condition=True)
    engine.put(DISTRESS, 3, condition=True)
    engine.put(Key(Kind.NO_SIGNAL, wearer=5), 0, condition=True, held=True)
    engine.put(PRE_ALARM, 0, condition=True)
    engine.acknowledge(2, "R. Harrow", 4)
    # What is held back has no line.
    lines = ordering.lines(engine.by_key.values(), no_crew, no_air)
    assert [alarm.key.kind for alarm in lines] == ["distress", "low_air", "no_signal", "pre_alarm"]
    engine.put(Key(Kind.LOW_AIR, wearer=6), 5, condition=True)
    lines = ordering.lines(engine.by_key.values(), no_crew, no_air)
    assert [a.raised_ns for a in lines] == [3, 5, 2, 1, 0]


def told(engine: Engine) -> list[tuple[str, int]]:
    lines = ordering.lines(engine.by_key.values(), in_pairs, no_air)
    return [(alarm.key.kind, alarm.key.wearer) for alarm in lines]


def test_one_crew_stands_together_where_its_oldest_stands(engine: Engine) -> None:
    for t, wearer in enumerate((3, 1, 4, 5, 2)):
        engine.put(Key(Kind.LOW_AIR, wearer=wearer), t, condition=True)
    engine.put(Key(Kind.DISTRESS, wearer=6), 9, condition=True)
    assert told(engine) == [
        ("distress", 6),
        ("low_air", 3),
        ("low_air", 4),
        ("low_air", 1),
        ("low_air", 2),
        ("low_air", 5),
    ]


def test_a_crew_never_pulls_up_what_is_less_urgent(engine: Engine) -> None:
    engine.put(Key(Kind.NO_SIGNAL, wearer=2), 0, condition=True)
    engine.put(Key(Kind.LOW_AIR, wearer=1), 1, condition=True)
    engine.put(Key(Kind.LOW_AIR, wearer=3), 2, condition=True)
    assert told(engine) == [("low_air", 1), ("low_air", 3), ("no_signal", 2)]
    engine.acknowledge(2, "R. Harrow", 3)
    assert told(engine) == [("low_air", 3), ("low_air", 1), ("no_signal", 2)]


def test_the_base_and_packs_of_nobody_are_no_crew(engine: Engine) -> None:
    engine.put(Key(Kind.DISK), 0, condition=True)
    engine.put(Key(Kind.NO_SIGNAL, wearer=1), 1, condition=True)
    engine.put(Key(Kind.RECEIVER_DOWN, link=1), 2, condition=True)
    engine.put(Key(Kind.NO_SIGNAL, wearer=2), 3, condition=True)
    engine.put(Key(Kind.NO_SIGNAL, wearer=8), 0, condition=True)
    assert told(engine) == [
        ("no_signal", 8),
        ("no_signal", 1),
        ("no_signal", 2),
        ("receiver_down", 0),
        ("disk", 0),
    ]


def test_the_worst_is_of_those_that_hold_or_are_latched(engine: Engine) -> None:
    assert ordering.worst([], no_air) is None
    engine.put(LOW_AIR, 1, condition=True)
    engine.put(LOW_AIR, 2, condition=False, at_once=True)
    engine.put(NO_SIGNAL, 3, condition=True)
    assert ordering.worst(engine.by_key.values(), no_air) is engine.by_key[NO_SIGNAL]
    engine.put(NO_SIGNAL, 4, Priority.DANGER, condition=True)
    engine.acknowledge(engine.by_key[NO_SIGNAL].number, "R. Harrow", 4)
    engine.put(Key(Kind.TURN_BACK, crew="Alpha 1"), 4, condition=True)
    # One that is taken still names the state of its wearer: what is taken is not over.
    assert ordering.worst(engine.by_key.values(), no_air) is engine.by_key[NO_SIGNAL]
    engine.put(DISTRESS, 5, condition=True)
    assert ordering.worst(engine.by_key.values(), no_air) is engine.by_key[DISTRESS]
    engine.put(DISTRESS, 6, condition=False)
    assert ordering.worst(engine.by_key.values(), no_air) is engine.by_key[NO_SIGNAL]


def test_what_is_over_names_a_state_only_where_nothing_is_there(engine: Engine) -> None:
    """A distress that waits for its reset hides no low air; a notice hides neither."""
    distress = Key(Kind.DISTRESS, wearer=1)
    engine.put(distress, 1, condition=True)
    engine.put(distress, 2, condition=False)
    engine.put(Key(Kind.PRE_ALARM, wearer=1), 3, condition=True)
    found = ordering.worst(engine.by_key.values(), no_air)
    assert found is not None
    assert found.key.kind is Kind.DISTRESS
    engine.put(Key(Kind.LOW_AIR, wearer=1), 4, condition=True)
    found = ordering.worst(engine.by_key.values(), no_air)
    assert found is not None
    assert found.key.kind is Kind.LOW_AIR
