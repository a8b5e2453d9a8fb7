"""What is typed to be written down: notes, places, packs joined."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import WriteAct, act_of
from monitor.board.plain.commands import TYPED_MAX, command
from monitor.board.sheets.common import Context, act
from monitor.board.sheets.door import cylinder_of
from monitor.incident import events
from monitor.incident.event_parts import IDENTITY_MAX, RATED_MAX_BAR, WATER_VOLUME_MAX_L


def test_a_note_keeps_its_words_as_they_were_typed(scenes: Any) -> None:
    said = command("NOTE Gas is OFF at the main", scenes.quiet())
    assert said == act(
        "note", "note: Gas is OFF at the main", text="Gas is OFF at the main", wearer=None
    )
    of_one = command("note 4 knee hurts", scenes.quiet())
    assert of_one == act("note", "note, 4 Alpha 2-2: knee hurts", text="knee hurts", wearer=4)


def test_a_number_that_is_no_wearer_belongs_to_the_note(scenes: Any) -> None:
    assert command("note 99 bricks fell", scenes.quiet()) == act(
        "note", "note: 99 bricks fell", text="99 bricks fell", wearer=None
    )


def test_a_place_is_told_of_several(scenes: Any) -> None:
    said = command("place 3 4 Loft, stair B", scenes.quiet())
    assert said == act(
        "locate", "Alpha 2 (3, 4) at Loft, stair B", wearers=(3, 4), location="Loft, stair B"
    )


def test_a_place_is_told_of_a_crew(scenes: Any) -> None:
    said = command("place crew 4 loft", scenes.quiet())
    assert said == act("locate", "Alpha 2 (3, 4) at loft", wearers=(3, 4), location="loft")


def test_a_pack_is_joined_with_or_without_a_cylinder(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert command("join 4 4799", quiet) == act(
        "join_pack", "4 Alpha 2-2 has pack 4799", wearer=4, pack=4799
    )
    full = command("join 4 4799 6.8 300", quiet)
    assert isinstance(full, WriteAct)
    assert (full.fields["water_volume_l"], full.fields["rated_bar"]) == (6.8, 300.0)


def test_without_telemetry_the_cylinder_must_be_said(scenes: Any) -> None:
    """Else nothing would tell how much air there is."""
    said = command("join 4 none", scenes.quiet())
    assert said == ["join: no pack tells of the cylinder, so say it: join 4 none 6.8 300."]
    silent = command("join 4 none 6.8 300", scenes.quiet())
    assert silent == act(
        "join_pack",
        "4 Alpha 2-2 without telemetry",
        wearer=4,
        pack=None,
        water_volume_l=6.8,
        rated_bar=300.0,
    )


@pytest.mark.parametrize(
    "typed",
    [
        "note", "note 4", "place", "place 4", "place loft", "place 99 loft", "join", "join 4",
        "join 99 4799", "join four 4799", "join 4 0", "join 4 4294967296", "join 4 x",
        "join 4 4799 6.8", "join 4 4799 0 300", "join 4 4799 31 300", "join 4 4799 6.8 451",
        "join 4 4799 nan 300", "join 4 4799 six 300", "join 4 none inf 300",
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_clear_line(scenes: Any, typed: str) -> None:
    said = command(typed, scenes.quiet())
    assert isinstance(said, list)
    (line,) = said
    assert line.startswith(typed.split(maxsplit=1)[0])


def test_packs_of_nobody_are_listed(scenes: Any) -> None:
    assert command("packs", scenes.trouble()) == ["Pack 4799: signal."]
    assert command("packs", scenes.quiet()) == ["No pack of nobody."]


def test_each_becomes_an_act_that_the_journal_takes(scenes: Any) -> None:
    longest = "x" * (TYPED_MAX - len("note "))
    for typed, kind in (
        (f"note {longest}", events.Note),
        ("note 4 knee hurts", events.Note),
        ("place 3 4 loft", events.Locate),
        (f"join 4 {IDENTITY_MAX} {WATER_VOLUME_MAX_L} {RATED_MAX_BAR}", events.JoinPack),
        ("join 4 none 6.8 300", events.JoinPack),
    ):
        effect = command(typed, replace(scenes.quiet()))
        assert not isinstance(effect, list)
        act = act_of(effect, "act-00001", "R. Harrow", 5)  # type: ignore[arg-type]
        assert type(act) is kind
    assert isinstance(act, events.JoinPack)
    assert (act.wearer, act.pack, act.water_volume_l, act.rated_bar) == (4, None, 6.8, 300)


@pytest.mark.parametrize("size", ["6.8 3", "0.05 300", "6.8 nan", "6_8 300", "31 300", "6.8 451"])
def test_a_cylinder_that_the_sheet_refuses_is_refused_here(scenes: Any, size: str) -> None:
    """Both boards ask the same check: 3 bar for 300 would have been believed."""
    (said,) = command(f"join 4 none {size}", scenes.quiet())  # type: ignore[misc]
    assert said.startswith("join: say a number from ")
    sheet = Context(scenes.quiet())
    assert cylinder_of("/".join(size.split()), sheet) is None
