"""Quiet lines fold in fixed steps; an abnormal wearer keeps its line."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.board.lines import folding
from monitor.board.lines.folding import Item, Kind
from monitor.incident.picture import EmergencyView, NextMark, Phase, Picture, Priority, Signal

NONE: frozenset[int] = frozenset()


def numbers(items: list[Item]) -> list[int]:
    return [item.wearers[0].wearer for item in items if item.kind is Kind.WEARER]


def with_trouble(picture: Picture, *troubled: int) -> Picture:
    return replace(
        picture,
        wearers=tuple(
            replace(w, state="LOW AIR", priority=Priority.DANGER) if w.wearer in troubled else w
            for w in picture.wearers
        ),
    )


def test_everybody_has_a_line_while_there_is_room(scenes: Any) -> None:
    items = folding.items(scenes.many(18), 27, NONE, by_time=False)
    assert numbers(items) == list(range(1, 19))
    assert [item.wearers for item in items if item.kind is Kind.CREW] == [()] * 9


def test_crews_stay_together_in_order_of_check_in(scenes: Any) -> None:
    first, second, third = scenes.wearer(1), scenes.wearer(2, crew="Beta"), scenes.wearer(3)
    third = replace(third, crew=first.crew)
    items = folding.items(scenes.picture((first, second, third)), 5, NONE, by_time=False)
    assert numbers(items) == [1, 3, 2]
    assert [item.kind for item in items] == [Kind.CREW, Kind.WEARER, Kind.WEARER, Kind.WEARER]


def test_only_as_many_quiet_crews_fold_as_needed_from_the_last(scenes: Any) -> None:
    items = folding.items(scenes.many(20), 26, NONE, by_time=False)
    assert [item.kind for item in items[-2:]] == [Kind.CREW, Kind.CREW]
    assert len(items) == 26  # 10 crews, 20 wearers, less two crews of two
    assert numbers(items) == list(range(1, 17))


def test_crews_not_under_air_fold_first(scenes: Any) -> None:
    picture = scenes.many(20)
    off = tuple(
        replace(w, under_air=False, phase=Phase.OFF_AIR, state="off air") if w.wearer <= 4 else w
        for w in picture.wearers
    )
    items = folding.items(replace(picture, wearers=off), 26, NONE, by_time=False)
    assert [item.kind for item in items[:2]] == [Kind.CREW, Kind.CREW]
    assert numbers(items) == list(range(5, 21))


def test_the_emergency_crew_is_the_last_to_lose_its_line(scenes: Any) -> None:
    ready = EmergencyView("Alpha 30", "ready", (59, 60), 0)
    picture = replace(scenes.many(60), emergency=(ready,))
    items = folding.items(picture, 10, NONE, by_time=False)
    assert [i.wearers[0].crew for i in items if i.kind is Kind.CREW][-1] == "Alpha 30"


def test_quiet_mates_fold_into_their_crews_line_before_crews_are_counted(scenes: Any) -> None:
    items = folding.items(with_trouble(scenes.many(4), 1), 3, NONE, by_time=False)
    assert [item.kind for item in items] == [Kind.CREW, Kind.WEARER, Kind.CREW]
    assert [[w.wearer for w in item.wearers] for item in items] == [[2], [1], [3, 4]]


def test_then_folded_crews_join_one_line(scenes: Any) -> None:
    items = folding.items(scenes.many(60), 10, NONE, by_time=False)
    assert len(items) == 10
    assert items[-1].kind is Kind.REST
    assert items[-1].crews == 21  # 30 crews, nine have a line of their own
    assert len(items[-1].wearers) == 42


def test_an_abnormal_wearer_keeps_a_line_and_so_does_the_chosen_one(scenes: Any) -> None:
    picture = with_trouble(scenes.many(200), 37, 122)
    items = folding.items(picture, 5, frozenset({90}), by_time=False)
    assert set(numbers(items)) >= {37, 90, 122}
    assert len(items) <= 5


def test_quiet_mates_of_an_abnormal_wearer_fold_last(scenes: Any) -> None:
    items = folding.items(with_trouble(scenes.many(12), 1, 3, 5), 4, NONE, by_time=False)
    assert numbers(items) == [1, 3, 5]
    assert len(items[-1].wearers) == 9


def test_a_window_too_small_says_so_and_keeps_the_most_urgent(scenes: Any) -> None:
    picture = with_trouble(scenes.many(10), 2, 4, 6, 8)
    cautious = tuple(
        replace(w, priority=Priority.CAUTION) if w.wearer == 2 else w for w in picture.wearers
    )
    items = folding.items(replace(picture, wearers=cautious), 4, NONE, by_time=False)
    assert numbers(items) == [4, 6, 8]
    assert items[-1].kind is Kind.TOO_MANY
    assert 2 in {w.wearer for w in items[-1].wearers}


def with_next(wearer: Any, seconds: int | None) -> Any:
    mark = None if seconds is None else NextMark("turn", seconds, "F")
    return replace(wearer, air=replace(wearer.air, next=mark))


def test_least_time_first_and_unknown_air_counts_as_none(scenes: Any) -> None:
    wearers = (
        with_next(scenes.wearer(1, 90), 600),
        with_next(scenes.wearer(2, 200), 599),
        with_next(scenes.wearer(3, 200), -1),
        scenes.wearer(4, None),
        with_next(scenes.wearer(5, 150), None),
        with_next(scenes.wearer(6, 120), None),
        with_next(scenes.wearer(7, 50, under_air=False), None),
    )
    items = folding.items(scenes.picture(wearers), 9, NONE, by_time=True)
    assert numbers(items) == [4, 3, 2, 1, 6, 5, 7]


def test_least_time_first_keeps_the_abnormal_and_counts_the_rest(scenes: Any) -> None:
    picture = with_trouble(scenes.many(40), 20)
    items = folding.items(picture, 6, NONE, by_time=True)
    assert 20 in numbers(items)
    assert len(items) == 6
    assert items[-1].kind is Kind.REST
    crowded = with_trouble(scenes.many(40), *range(1, 20))
    assert folding.items(crowded, 6, NONE, by_time=True)[-1].kind is Kind.TOO_MANY


def test_what_is_abnormal(scenes: Any) -> None:
    assert not folding.is_abnormal(scenes.wearer(1))
    assert folding.is_abnormal(scenes.wearer(1, state="crew alarm", crew_alarm=True))
    assert folding.is_abnormal(scenes.wearer(1, signal=Signal.GAP))
    assert folding.is_abnormal(scenes.wearer(1, priority=Priority.NOTICE))
    assert not folding.is_abnormal(scenes.wearer(1, signal=Signal.LOST, under_air=False))


def test_no_lines_no_items(scenes: Any) -> None:
    assert folding.items(scenes.many(5), 0, NONE, by_time=False) == []


@settings(max_examples=150, deadline=None)
@given(data=st.data(), by_time=st.booleans())
def test_nobody_is_ever_lost(scenes: Any, data: st.DataObject, by_time: bool) -> None:
    picture = with_trouble(
        scenes.many(data.draw(st.integers(0, 60))), *data.draw(st.sets(st.integers(1, 60)))
    )
    lines = data.draw(st.integers(1, 40))
    items = folding.items(picture, lines, NONE, by_time=by_time)
    shown = [w.wearer for item in items for w in item.wearers]
    assert sorted(shown) == [w.wearer for w in picture.wearers]
    assert len(items) <= lines
    alone = set(numbers(items))
    abnormal = {w.wearer for w in picture.wearers if folding.is_abnormal(w)}
    if abnormal - alone:
        assert any(item.kind is Kind.TOO_MANY for item in items)
        assert len(abnormal) > lines - 1
