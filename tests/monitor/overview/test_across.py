"""The same person on two boards, or gone from one and not come."""

from dataclasses import replace

from monitor.incident.picture import Phase, WearerView
from monitor.overview.across import is_same, not_come, on_two
from monitor.overview.doors import Door
from tests.monitor.board import conftest as boards
from tests.monitor.overview.scenes import door, peace


def with_first(one: Door, **changes: object) -> Door:
    first, *rest = one.picture.wearers
    changed = replace(first, **changes)  # type: ignore[arg-type]
    return replace(one, picture=replace(one.picture, wearers=(changed, *rest)))


def test_known_again_by_the_pack_else_by_name() -> None:
    one = boards.quiet_scene().wearers[0]
    assert is_same(one, replace(one, name="other", call_sign="other"))
    assert not is_same(one, replace(one, pack=9_999))
    silent = replace(one, pack=None)
    assert is_same(silent, replace(one, name=one.name.upper()))
    assert not is_same(silent, replace(one, name="other"))


def test_under_air_on_two_boards() -> None:
    a, b, c = peace()
    assert list(on_two([a, b, c])) == []
    pack = a.picture.wearers[0].pack
    twice = with_first(c, pack=pack)
    (found,) = on_two([a, b, twice])
    assert [one.number for one in found.doors] == [1, 3]
    assert [one.pack for one in found.wearers] == [pack, pack]
    assert list(on_two([a, b, with_first(c, pack=pack, under_air=False)])) == []


def test_moved_and_not_come() -> None:
    a, b, c = peace()
    moved = with_first(a, phase=Phase.MOVED, under_air=False, moved_to="B")
    (found,) = not_come([moved, b, c])
    assert (found.door.number, found.wearer.wearer) == (1, 1)
    gone: WearerView = moved.picture.wearers[0]
    for phase, comes in ((Phase.CHECKED_IN, True), (Phase.ENTERED, True), (Phase.LISTED, False)):
        there = with_first(b, pack=gone.pack, phase=phase)
        assert (list(not_come([moved, there, c])) == []) is comes


def test_one_door_alone_has_nobody_across() -> None:
    one = door(1, "A", boards.trouble_scene())
    assert list(on_two([one])) == []
