"""Turn-back against the trade's worked examples and an independent real gas.

Litre figures marked "computed" come from CoolProp 8.0, fluid Air, at 15 C.
"""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.incident.air import gas, turn_back
from monitor.incident.air.shown import Cylinder
from monitor.incident.air.turn_back import LEGS_MAX, CrewTurn, Member, Turn, Way
from monitor.incident.procedure import Procedure

SMALL = Cylinder(6.8, 300, 55, 15)
LARGE = Cylinder(9, 300, 55, 15)


def rules(rule: str, **values: Any) -> Procedure:
    given_values = {
        "name": "trial",
        "title": "Trial rules",
        "low_air_bar": 55,
        "turn_back_rule": rule,
        "silence_limit_s": 90,
        "pre_alarm_silence_s": 15,
        "gas_temperature_c": 15,
        "projection_rate_l_min": 100,
        "spoken_reading_valid_s": 600,
    }
    return Procedure.model_validate(given_values | values)


HALF, DOUBLE, THIRDS = (rules(rule) for rule in ("half", "double", "thirds"))


def found(mark: Turn | None) -> Turn:
    assert mark is not None
    return mark


def arrived(start: float, goal: float) -> Way:
    return Way.connected(start).reached(goal)


# ---------------------------------------------------------------- half


# Equal air out and back, p_warn + (p_entry - p_warn) / 2: the usual sum of UK entry control. The
# last is a UK trainers' worked example, (280 - 60) / 2 + 60 = 170 bar.
@pytest.mark.parametrize(
    ("start", "low", "bar"), [(300, 55, 177.5), (200, 55, 127.5), (280, 60, 170)]
)
def test_half_of_the_usable_air(start: float, low: float, bar: float) -> None:
    mark = found(turn_back.turn(HALF, Way.connected(start), Cylinder(6.8, 300, low, 15)))
    assert mark.bar == pytest.approx(bar)
    assert mark.by == "bar rule"
    assert mark.why == "half of the usable air"


def test_half_stays_where_it_is_wherever_the_work_is() -> None:
    """Reached at 280 bar, there is air to work with; the half-way mark is kept all the same."""
    assert turn_back.turn(HALF, arrived(300, 280), SMALL) == turn_back.turn(
        HALF, Way.connected(300), SMALL
    )


def test_half_left_for_the_way_back_keeps_no_reserve() -> None:
    """Mine rescue, "half left" (from memory): 200 bar, turn at 100."""
    mark = found(
        turn_back.turn(
            rules("half", turn_back_reserve_bar=0), Way.connected(200), Cylinder(6, 200, 55, 15)
        )
    )
    assert mark.bar == pytest.approx(100)


# ---------------------------------------------------------------- thirds


# One third in, one out, one kept: 300 bar, turn at 200. Mine rescue, "two thirds left": 133.3 of
# 200 (both from memory).
@pytest.mark.parametrize(("start", "bar"), [(300, 200), (200, 400 / 3)])
def test_thirds(start: float, bar: float) -> None:
    mark = found(turn_back.turn(THIRDS, Way.connected(start), SMALL))
    assert mark.bar == pytest.approx(bar)


def test_thirds_keep_the_low_air_value_if_that_is_more_than_a_third() -> None:
    """270 bar with the warning at 105: 105 + (270 - 105) / 2 = 187.5, not 180."""
    mark = found(turn_back.turn(THIRDS, Way.connected(270), Cylinder(6.8, 300, 105, 15)))
    assert mark.bar == pytest.approx(187.5)


# ---------------------------------------------------------------- double


# FwDV 7, 7.2 (from memory; heading seen in a Hessen teaching document of 2020): twice the air of
# the way in. 300 to 270 keeps 60, 300 to 240 keeps 120, 270 to 220 keeps 100, above the reserve.
@pytest.mark.parametrize(
    ("start", "goal", "way_back"), [(300, 270, 60), (300, 240, 120), (270, 220, 100)]
)
def test_double_air_for_the_way_back(start: float, goal: float, way_back: float) -> None:
    mark = found(turn_back.turn(DOUBLE, arrived(start, goal), SMALL))
    assert mark.bar == pytest.approx(55 + way_back)
    assert mark.by == "bar rule"
    assert mark.why == "double air for the way back"


# Litres on the way in and the litre rule's mark, computed; 6.8 L unless said.
@pytest.mark.parametrize(
    ("volume_l", "start", "goal", "reserve", "way_in_l", "by_bar", "by_litre"),
    [
        (6.8, 300, 270, 55, 140, 115, 96),
        (6.8, 300, 250, 55, 239, 155, 126),
        (6.8, 300, 230, 55, 344, 195, 158),
        (9, 300, 250, 55, 317, 155, 126),
        (6.8, 379, 330, 55, 192, 153, 111),
        (6, 200, 170, 50, 157, 110, 102),
        (6.8, 300, 250, 0, 239, 100, 70),
    ],
)
def test_both_rules_after_arrival(
    volume_l: float,
    start: float,
    goal: float,
    reserve: float,
    way_in_l: float,
    by_bar: float,
    by_litre: float,
) -> None:
    cylinder = Cylinder(volume_l, start, reserve, 15)
    way = arrived(start, goal)
    assert turn_back.way_in_l(Member(way, goal, cylinder)) == pytest.approx(way_in_l, rel=0.02)
    assert turn_back.bar_rule(way, reserve, 2) == by_bar
    assert turn_back.litre_rule(way, reserve, 2, cylinder) == pytest.approx(by_litre, abs=1)
    kept = rules("double", turn_back_reserve_bar=reserve)
    mark = found(turn_back.turn(kept, way, cylinder))
    assert mark.bar == by_bar
    assert mark.other_bar == pytest.approx(by_litre, abs=1)


# The deepest point: turn at once. Computed; the bar rule is start - (start - reserve) / (n + 1).
@pytest.mark.parametrize(
    ("start", "reserve", "times", "by_bar", "by_litre"),
    [
        (300, 55, 2, 218, 205),
        (300, 55, 1, 178, 164),
        (379, 55, 2, 271, 244),
        (379, 55, 1, 217, 191),
        (200, 50, 2, 150, 147),
    ],
)
def test_the_deepest_point_before_arrival(
    start: float, reserve: float, times: int, by_bar: float, by_litre: float
) -> None:
    way = Way.connected(start)
    assert turn_back.bar_rule(way, reserve, times) == pytest.approx(by_bar, abs=0.51)
    assert turn_back.litre_rule(way, reserve, times, SMALL) == pytest.approx(by_litre, abs=1)


def test_where_the_deepest_point_is_reached_the_running_sum_says_the_same() -> None:
    deepest = found(turn_back.turn(DOUBLE, Way.connected(300), SMALL)).bar
    assert found(turn_back.turn(DOUBLE, arrived(300, deepest), SMALL)).bar == pytest.approx(deepest)


def test_a_litre_rule_worked_through_in_minutes() -> None:
    """8 min in at 45 L/min, usable 1451 L (computed), work at 50: 7.4 min more, at 163 bar."""
    at_goal_l = gas.usable_l(300, 6.8, 15) - 8 * 45
    way = arrived(300, gas.gauge_bar(at_goal_l, 6.8, 15))
    mark = turn_back.litre_rule(way, 55, 2, SMALL)
    assert mark == pytest.approx(163, abs=1)
    work_l = at_goal_l - gas.usable_l(mark or 0, 6.8, 15)
    assert work_l / 50 == pytest.approx(7.4, abs=0.1)
    # (1451 - 3 x 360) / 50 = 7.42.
    assert gas.usable_l(300, 6.8, 15) - gas.usable_l(55, 6.8, 15) == pytest.approx(1451, abs=5)


def test_a_new_objective_moves_the_way_in() -> None:
    """In with 30 bar, work from 270 to 230, on with 20 more: 50 bar in, 100 back, 55 kept."""
    sent_on = arrived(300, 270).sent_on(230)
    # On the way: (55 + 2 x (30 + 230)) / 3; there 30 + (230 - 191.67) were used and twice is kept.
    assert found(turn_back.turn(DOUBLE, sent_on, SMALL)).bar == pytest.approx(575 / 3)
    assert found(turn_back.turn(DOUBLE, sent_on.reached(210), SMALL)).bar == pytest.approx(155)


def test_sent_on_before_arrival_the_way_in_just_goes_on() -> None:
    assert Way.connected(300).sent_on(280) == Way.connected(300)


def test_reached_twice_is_reached_once() -> None:
    assert arrived(300, 270).reached(200) == arrived(300, 270)


def test_a_gauge_that_shows_more_at_the_objective_takes_nothing_off_the_way_in() -> None:
    assert found(turn_back.turn(DOUBLE, arrived(300, 305), SMALL)).bar == 55


def test_many_objectives_are_remembered_as_few_legs_never_shorter() -> None:
    way = Way.connected(300)
    for number in range(LEGS_MAX + 5):
        way = way.reached(299 - number).sent_on(298.5 - number)
    assert len(way.legs) == LEGS_MAX
    # 25 legs: the first of 1 bar, then half a bar each; joined ones count the work between as way.
    walked = sum(begin - end for begin, end in way.legs)
    assert walked >= 1 + (LEGS_MAX + 4) * 0.5


# ---------------------------------------------------------------- fixed, none, not known


@pytest.mark.parametrize(
    ("values", "bar", "why"),
    [
        ({"turn_back_fixed_bar": 150}, 150, "a fixed pressure"),
        ({"turn_back_fixed_fraction": 0.5}, 150, "50 % of rated pressure"),
        # Never under what must be left.
        ({"turn_back_fixed_bar": 50}, 55, "the reserve"),
    ],
)
def test_a_fixed_pressure(values: dict[str, float], bar: float, why: str) -> None:
    mark = found(turn_back.turn(rules("fixed", **values), Way.connected(290), SMALL))
    assert (mark.bar, mark.by, mark.why) == (bar, "fixed", why)


def test_no_rule_no_mark() -> None:
    assert turn_back.turn(rules("none"), Way.connected(300), SMALL) is None


def test_what_is_not_known_gives_no_mark() -> None:
    assert turn_back.turn(HALF, Way.connected(300), Cylinder(6.8, None, None, 15)) is None


def test_a_share_of_a_rating_that_nobody_told_is_one_of_the_highest_usual_rating() -> None:
    fraction = rules("fixed", turn_back_fixed_fraction=0.5)
    mark = found(turn_back.turn(fraction, Way.connected(300), Cylinder(6.8, None, 55, 15)))
    assert mark.bar == 150  # half of 300 bar


def test_without_a_water_volume_the_bar_rule_stands_alone() -> None:
    mark = found(turn_back.turn(HALF, Way.connected(300), Cylinder(None, 300, 55, 15)))
    assert (mark.bar, mark.by, mark.other_bar) == (177.5, "bar rule", None)


# ---------------------------------------------------------------- crews


def crew(*members: Member, procedure: Procedure = DOUBLE) -> CrewTurn:
    return turn_back.crew_turn(procedure, members)


ALPHA = (
    Member(arrived(300, 262), 262, SMALL),
    Member(arrived(290, 246), 246, SMALL),
    Member(arrived(295, 268), 268, LARGE),
)
"""A worked example, computed: 179, 214 and 168 L in; litre rule with the crew's 214 L 118, 118 and
102 bar; bar rule of each 131, 143 and 109 bar."""


def test_the_litres_of_the_crews_way_in() -> None:
    assert [turn_back.way_in_l(m) for m in ALPHA] == [
        pytest.approx(litres, abs=2) for litres in (179, 214, 168)
    ]


def test_the_litre_rule_alone_takes_the_most_litres_of_the_crew() -> None:
    most = turn_back.way_in_l(ALPHA[1])
    marks = [
        turn_back.litre_rule(m.way, 55, 2, m.cylinder, most) for m in ALPHA if m.way is not None
    ]
    assert marks == [pytest.approx(bar, abs=1) for bar in (118, 118, 102)]
    # Work left for the second one by the litre rule: 762 L, 16.9 min at 45 L/min.
    left = gas.usable_l(246, 6.8, 15) - gas.usable_l(marks[1] or 0, 6.8, 15)
    assert left == pytest.approx(762, abs=6)
    assert left / 45 == pytest.approx(16.9, abs=0.15)


def test_the_stricter_bar_rule_governs_and_the_least_margin_turns_the_crew() -> None:
    """The crew turns when the second one's gauge shows 143 bar."""
    turned = crew(*ALPHA)
    assert [found(mark).bar for mark in turned.turns] == [
        pytest.approx(bar) for bar in (131, 143, 109)
    ]
    assert {found(mark).by for mark in turned.turns} == {"bar rule"}
    assert turned.governs == 1
    assert turned.margins_l[1] == pytest.approx(
        gas.usable_l(246, 6.8, 15) - gas.usable_l(143, 6.8, 15)
    )
    assert turned.margins_l[1] == min(m for m in turned.margins_l if m is not None)


def test_with_mixed_cylinders_the_litre_rule_can_be_the_stricter() -> None:
    """The mate took 50 bar from 9 L; the same litres are far more bar on 3 L."""
    small = Member(arrived(300, 280), 280, Cylinder(3, 300, 55, 15))
    mate = Member(arrived(300, 250), 250, LARGE)
    mark = found(crew(small, mate).turns[0])
    assert mark.by == "litre rule"
    kept = gas.usable_l(55, 3, 15) + 2 * turn_back.way_in_l(mate)
    assert gas.usable_l(mark.bar, 3, 15) == pytest.approx(kept)
    assert mark.bar > 55 + 2 * 20
    assert mark.other_bar == pytest.approx(55 + 2 * 20)


def test_litres_compare_where_bar_do_not() -> None:
    """200 bar in 9 L is more than 210 in 3 L: the one with more bar turns the crew."""
    low_bar = Member(Way.connected(300), 200, LARGE)
    high_bar = Member(Way.connected(300), 210, Cylinder(3, 300, 55, 15))
    assert crew(low_bar, high_bar, procedure=HALF).governs == 1


def test_where_all_rates_are_known_minutes_compare() -> None:
    """The same litres, but one breathes twice as much."""
    calm = Member(Way.connected(300), 250, SMALL, rate_l_min=40)
    busy = Member(Way.connected(300), 251, SMALL, rate_l_min=80)
    assert crew(calm, busy, procedure=HALF).governs == 1
    unknown = Member(Way.connected(300), 251, SMALL)
    assert crew(calm, unknown, procedure=HALF).governs == 0


def test_who_is_not_known_does_not_govern() -> None:
    blind = Member(None, 200, SMALL)
    known = Member(Way.connected(300), 250, SMALL)
    turned = crew(blind, known)
    assert turned.turns[0] is None
    assert turned.margins_l[0] is None
    assert turned.governs == 1
    assert crew(blind).governs is None


def test_a_mark_that_is_passed_has_a_negative_margin() -> None:
    assert (crew(Member(Way.connected(300), 100, SMALL), procedure=HALF).margins_l[0] or 0) < 0


BAR = st.floats(60, 380)


@given(
    start=BAR,
    share=st.floats(0, 1),
    low=st.floats(10, 120),
    volume=st.floats(2, 14),
    temperature=st.floats(-20, 60),
    rule=st.sampled_from([HALF, DOUBLE, THIRDS]),
)
def test_never_later_than_either_rule(
    start: float, share: float, low: float, volume: float, temperature: float, rule: Procedure
) -> None:
    cylinder = Cylinder(volume, 300, low, temperature)
    way = Way.connected(start) if share == 0 else arrived(start, start * share)
    times = 2 if rule is DOUBLE else 1
    mark = found(turn_back.turn(rule, way, cylinder))
    used = way if rule is DOUBLE else Way.connected(start)
    assert mark.bar >= turn_back.bar_rule(used, low, times) - 1e-9
    by_litre = turn_back.litre_rule(used, low, times, cylinder)
    assert by_litre is not None
    assert mark.bar >= by_litre - 1e-9


# ---------------------------------------------------------------- another cylinder


def test_legs_of_a_cylinder_of_another_size_are_of_its_own_volume() -> None:
    """90 bar of 6.8 L are 68 bar of 9 L: 55 + 2 x 68 = 191, exactly as by the bar rule."""
    way = arrived(300, 210).fresh_cylinder(210, 300, 6.8)
    mark = found(turn_back.turn(DOUBLE, way, LARGE))
    assert turn_back.bar_rule(way, 55, 2, 9) == pytest.approx(55 + 2 * 90 * 6.8 / 9)
    # Litres used, with the volume that they were used of.
    used = gas.usable_l(300, 6.8, 15) - gas.usable_l(210, 6.8, 15)
    keep = gas.usable_l(55, 9, 15) + 2 * used
    assert turn_back.litre_rule(way, 55, 2, LARGE) == pytest.approx(gas.gauge_bar(keep, 9, 15))
    assert mark.bar >= 191


def test_where_a_size_is_not_known_a_bar_is_a_bar() -> None:
    way = arrived(300, 210).fresh_cylinder(210, 300)
    assert turn_back.bar_rule(way, 55, 2, 9) == 55 + 2 * 90


def test_of_many_cylinders_nothing_walked_is_lost() -> None:
    way = arrived(300, 290)
    for _ in range(LEGS_MAX + 5):
        way = way.fresh_cylinder(290, 300, 6.8).sent_on(300).reached(290)
    assert len(way.old_legs) == LEGS_MAX
    assert turn_back.bar_rule(way, 55, 2, 6.8) == pytest.approx(55 + 2 * 10 * (LEGS_MAX + 6))
