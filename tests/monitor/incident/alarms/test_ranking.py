"""The ranking against pairs that were judged apart from it, and against its own rules."""

import re
from math import isnan
from pathlib import Path
from typing import NamedTuple

import pytest

from monitor.incident.alarms import ordering, ranking
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.engine import Alarm, Engine, Key
from monitor.incident.alarms.ranking import (
    NOTHING,
    RANKING,
    About,
    Known,
    Left,
    Place,
    left_of,
    place_of,
)
from monitor.incident.picture import Phase, Priority

PAIRS = Path(ranking.__file__).with_name("ORDER-PAIRS.md")
BY_ANOTHER = PAIRS.with_name("ORDER-PAIRS-BY-ANOTHER.md")
SHARE_MAX = 0.05
S = 1_000_000_000


class Side(NamedTuple):
    """One alarm of a pair, as its words say."""

    kind: Kind
    priority: Priority
    known: Known = NOTHING
    raised_ns: int = -30 * S
    taken: bool = False
    over: bool = False


def begin(engine: Engine, side: Side, wearer: int) -> Alarm:
    """Raise it as it was raised, and let the officer and the wearer do what the side says."""
    key = Key(side.kind, wearer=wearer)
    engine.put(key, side.raised_ns, side.priority, condition=True)
    alarm = engine.by_key[key]
    if side.taken and alarm.waits:
        engine.acknowledge(alarm.number, "R. Harrow", 0)
    if side.over:
        engine.put(key, 0, condition=False)
    return alarm


def stands_first(first: Side, then: Side) -> bool:
    """Whether the board has them so. The second has the lower number, so a tie is a no."""
    engine = Engine()
    known = {2: then.known, 1: first.known}
    begin(engine, then, 2)
    one = begin(engine, first, 1)
    alarms = engine.by_number.values()
    return ordering.lines(alarms, lambda _: "", lambda a: known[a.key.wearer])[0] is one


def cells_of(page: Path) -> list[list[str]]:
    rows = [line for line in page.read_text().splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]


# ---------------------------------------------------------------- by whoever ranked them


def side(words: str) -> Side:
    name, *rest = (word.strip() for word in words.split(","))
    kind = Kind(name)
    made = Side(kind, CATALOGUE[kind].priority)
    for word in rest:
        match word.split():
            case ["danger" | "caution" | "notice"]:
                made = made._replace(priority=Priority[word.upper()])
            case ["air", minutes]:
                made = made._replace(known=Known(int(float(minutes) * 60)))
            case ["for", seconds]:
                made = made._replace(raised_ns=-int(seconds) * S)
            case ["taken"]:
                made = made._replace(taken=True)
            case [_, "of", _]:
                assert kind is Kind.SEVERAL_SILENT
            case _:
                pytest.fail(f"a side of a pair says {word!r}")
    return made


def pairs() -> list[tuple[str, str]]:
    return [(one, two) for one, two, _ in cells_of(PAIRS) if one not in {"first", "---"}]


def test_no_more_than_one_pair_in_twenty_stands_the_other_way_round() -> None:
    judged = pairs()
    assert len(judged) >= 200
    assert len(set(judged)) == len(judged)
    wrong = [f"{one} over {two}" for one, two in judged if not stands_first(side(one), side(two))]
    assert len(wrong) <= SHARE_MAX * len(judged), wrong


def test_every_kind_is_ranked_and_judged() -> None:
    assert set(RANKING) == set(Kind)
    assert {side(one).kind for pair in pairs() for one in pair} == set(Kind)
    assert all(rank.why for rank in RANKING.values())


# ---------------------------------------------------------------- by another hand

L_BAR, LOW_BAR, USUAL_L_MIN = 6.8, 105, 45
"""As the head of their page says."""
KINDS = {entry.word.upper(): kind for kind, entry in CATALOGUE.items()}
OUT, OFF_AIR, CHECKED_IN = (
    Known(phases=(phase,)) for phase in (Phase.OUT, Phase.OFF_AIR, Phase.CHECKED_IN)
)
STATES: dict[str, dict[str, object]] = {
    "danger": {"priority": Priority.DANGER},
    "caution": {"priority": Priority.CAUTION},
    "notice": {"priority": Priority.NOTICE},
    "third in 10 min": {"priority": Priority.CAUTION},
    "of somebody noted out": {"known": OUT},
    "of somebody off air and noted out": {"known": OFF_AIR},
    "checked in at the door": {"known": CHECKED_IN},
    "no longer said by the pack": {"over": True},
    "heard again": {"over": True},
}
SAYS_NO_MORE = frozenset(
    """button, full, inside, under air, first, stuck, rising, outside rating, to evacuate, roll
    call, not started back, still pressed, still on, heard, moving out, behind, all links, with
    a mate, one of two links, both of two, crew of two, crew of three, three packs, four packs,
    after an evacuation, three packs of three crews, another wearer, loses air as by breathing,
    pack's own flag, motion warning for 30 s, at odds with spoken reading, at odds with the
    set's own warning, distress of a known wearer, motion alarm of a known wearer, waiting anew
    because as many joined""".replace("\n    ", " ").split(", ")
)
"""What the ranking takes no notice of, or has in the priority beside it."""
FIGURES = re.compile(
    r"(?P<under>under )?(?P<minutes>[\d.]+) min of air|(estimate )?(?P<bar>\d+) bar"
    r"|losing (?P<rate>\d+) L/min|(?P<low>(estimate|reading) at low-air value)"
    r"|waiting (?P<waiting>\d+) s|taken (?P<taken>\d+) s ago"
)


def told(words: str) -> Side:
    """The alarm that a side of the other hand's page describes."""
    name, _, states = words.partition(";")
    kind = KINDS[name.upper()]
    made = Side(kind, CATALOGUE[kind].priority)
    figures: dict[str, str] = {}
    for state in (word.strip() for word in states.split(",")):
        figure = FIGURES.fullmatch(state)
        if figure is not None:
            figures |= {k: v for k, v in figure.groupdict().items() if v is not None}
        elif state not in SAYS_NO_MORE:
            made = made._replace(**STATES[state])  # type: ignore[arg-type]
    since = figures.get("taken", figures.get("waiting", "30"))
    made = made._replace(raised_ns=-int(since) * S, taken="taken" in figures)
    bar = LOW_BAR if "low" in figures else float(figures.get("bar", "nan"))
    air_s = bar * L_BAR / float(figures.get("rate", USUAL_L_MIN)) * 60
    if "minutes" in figures:
        air_s = float(figures["minutes"]) * 60 - ("under" in figures)
    return made if isnan(air_s) else made._replace(known=made.known._replace(air_s=round(air_s)))


def judged_by_another() -> list[tuple[str, str, str]]:
    rows = cells_of(BY_ANOTHER)
    return [(upper, lower, why) for number, upper, lower, why in rows if number.isdecimal()]


def test_nor_of_those_that_somebody_else_judged() -> None:
    judged = judged_by_another()
    counted = [(upper, lower) for upper, lower, why in judged if not why.startswith("either:")]
    # As the head of the page says; so that none is dropped, or made an "either", in silence.
    assert (len(judged), len(counted)) == (253, 197)
    wrong = [f"{one} over {two}" for one, two in counted if not stands_first(told(one), told(two))]
    assert len(wrong) <= SHARE_MAX * len(counted), wrong


def test_a_side_in_words_is_the_alarm_that_they_describe() -> None:
    assert told("LOW AIR; 15 bar, losing 60 L/min, under 2 min of air, waiting 5 s") == Side(
        Kind.LOW_AIR, Priority.DANGER, Known(119), -5 * S
    )
    # 190 bar x 6.8 L / 40 L/min = 32.3 min; 105 x 6.8 / 45 = 15.87 min = 952 s.
    assert told("TURN-BACK DUE; 190 bar, losing 40 L/min, caution, waiting 5 s").known.air_s == 1938
    assert told("NO SIGNAL; estimate at low-air value, danger, taken 60 s ago") == Side(
        Kind.NO_SIGNAL, Priority.DANGER, Known(952), -60 * S, taken=True
    )
    noted_out = told("LOW AIR; pack's own flag, of somebody off air and noted out, waiting 60 s")
    assert noted_out.known == Known(None, (Phase.OFF_AIR,))
    assert told("NO SIGNAL; heard again, caution, waiting 60 s").over
    with pytest.raises(KeyError):
        told("LOW AIR; 15 bar, singing, waiting 5 s")


# ---------------------------------------------------------------- its own rules


@pytest.mark.parametrize("kind", [k for k, rank in RANKING.items() if rank.about is About.BASE])
def test_no_trouble_of_the_base_ever_stands_above_a_person(kind: Kind) -> None:
    base = place_of(kind, Priority.DANGER, NOTHING, taken=False, raised_ns=0, number=1)
    for other, rank in RANKING.items():
        if rank.about is About.PERSON:
            for phases in ((), (Phase.OUT,)):
                known = Known(phases=phases)
                person = place_of(other, Priority.NOTICE, known, taken=True, raised_ns=9, number=2)
                assert person < base, other


@pytest.mark.parametrize("kind", list(Kind))
def test_what_wants_its_answer_at_once_is_a_danger(kind: Kind) -> None:
    rank, priority = RANKING[kind], CATALOGUE[kind].priority
    if left_of(rank, priority, None) <= Left.AT_ONCE:
        assert priority is Priority.DANGER
    if priority is Priority.DANGER:
        assert left_of(rank, priority, None) <= Left.TWO_MIN


def test_air_that_is_known_is_the_time_to_act() -> None:
    low = RANKING[Kind.LOW_AIR]
    steps = {90: Left.SECONDS, 91: Left.AT_ONCE, 180: Left.AT_ONCE, 181: Left.ONE_MIN,
             360: Left.ONE_MIN, 361: Left.TWO_MIN, 720: Left.TWO_MIN, 721: Left.FIVE_MIN,
             -5: Left.SECONDS}  # fmt: skip
    for air_s, left in steps.items():
        assert left_of(low, Priority.DANGER, air_s) is left, air_s
    assert left_of(low, Priority.DANGER, None) is Left.ONE_MIN
    # A caution keeps its own time, and what is not of air takes no notice of air.
    assert left_of(RANKING[Kind.TURN_BACK], Priority.CAUTION, 100) is Left.ONE_MIN
    assert left_of(RANKING[Kind.PACK_OFF], Priority.DANGER, 100) is Left.TWO_MIN


@pytest.mark.parametrize("kind", [Kind.OVERDUE, Kind.NO_SIGNAL, Kind.NO_WORD, Kind.HELD_BACK])
def test_air_that_is_only_reckoned_never_comes_before_a_call_nor_waits_for_long(kind: Kind) -> None:
    assert left_of(RANKING[kind], Priority.DANGER, 0) is Left.AT_ONCE
    assert left_of(RANKING[kind], Priority.DANGER, 3600) is Left.TWO_MIN


def placed(kind: Kind, known: Known = NOTHING, *, raised_ns: int = 0) -> Place:
    priority = CATALOGUE[kind].priority
    return place_of(kind, priority, known, taken=False, raised_ns=raised_ns, number=1)


def test_the_last_air_that_was_read_comes_before_a_call_for_help() -> None:
    distress = placed(Kind.DISTRESS)
    for kind in (Kind.LOSS_OF_PRESSURE, Kind.LOW_AIR):
        assert placed(kind, Known(90)) < distress < placed(kind, Known(91))


@pytest.mark.parametrize("kind", [Kind.MOTION_ALARM, Kind.LOW_AIR])
def test_who_is_noted_out_stands_below_who_is_inside_and_is_a_danger_all_the_same(
    kind: Kind,
) -> None:
    for phase in (Phase.OUT, Phase.OFF_AIR):
        out = placed(kind, Known(0, (phase,)))
        assert out.priority is Priority.DANGER
        # Twelve minutes left are still air of somebody who is inside.
        assert placed(Kind.LOW_AIR, Known(720)) < out
        assert placed(kind, Known(720, (Phase.ENTERED,))) < out
    # Who went in and was never noted so lies inside, for all anybody knows.
    assert placed(kind, Known(None, (Phase.CHECKED_IN,))) == placed(kind)


@pytest.mark.parametrize("kind", [Kind.COUNTER_LOST, Kind.SAME_IDENTITY])
def test_a_pack_in_view_at_the_door_is_less_than_one_inside(kind: Kind) -> None:
    for phase in (Phase.CHECKED_IN, Phase.OUT, Phase.OFF_AIR):
        at_door = placed(kind, Known(phases=(phase,)))
        assert placed(Kind.NO_SIGNAL) < placed(Kind.GAUGE) < at_door
        # One of them inside, and the line is about somebody inside; so is one of nobody.
        assert placed(kind, Known(phases=(phase, Phase.ENTERED))) == placed(kind) < at_door


def test_air_counts_in_steps_so_that_lines_do_not_change_places_with_every_reading() -> None:
    def low(air_s: int, raised_ns: int) -> Place:
        return placed(Kind.LOW_AIR, Known(air_s), raised_ns=raised_ns)

    assert low(300, 1) < low(280, 2)
    assert low(270, 2) < low(280, 1)


def test_words_of_the_time_to_act() -> None:
    by_air = "a danger stands by the air left, where that is known"
    assert ranking.within(Kind.DISTRESS) == "at once"
    assert ranking.within(Kind.DISK) == "5 min; as a danger 2 min"
    assert ranking.within(Kind.LOSS_OF_PRESSURE) == f"at once; {by_air}"
    assert ranking.within(Kind.LOW_AIR) == f"1 min; {by_air}; at the door 5 min"
