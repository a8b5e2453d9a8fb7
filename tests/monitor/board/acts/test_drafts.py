"""An order before it is sent: whom it covers, and in what words."""

from dataclasses import replace
from typing import Any

from monitor.board.acts import drafts
from monitor.board.acts.drafts import Draft
from monitor.board.acts.effects import GiveAnOrder, Say


def test_nobody_chosen_is_everybody_but_never_for_come_out(scenes: Any) -> None:
    quiet = scenes.quiet()
    for order in ("evacuate", "roll call", "test"):
        effect = drafts.given(Draft(order), quiet, ())
        assert isinstance(effect, GiveAnOrder)
        assert (effect.wearers, effect.scope) == ((), "everybody")
    assert isinstance(drafts.given(Draft("come out"), quiet, ()), Say)


def test_one_who_comes_out_brings_the_whole_crew(scenes: Any) -> None:
    """National guidance: any of these in one member withdraws the whole team."""
    quiet = scenes.quiet()
    assert drafts.covered(Draft("come out"), quiet, (4,)) == (3, 4)
    assert drafts.covered(Draft("evacuate"), quiet, (4,)) == (4,)


def test_a_name_goes_before_a_pick(scenes: Any) -> None:
    effect = drafts.given(Draft(whose=1), scenes.quiet(), (), "M. Ash")
    assert isinstance(effect, GiveAnOrder)
    assert effect.on_order_of == "M. Ash"


def test_the_words_to_say(scenes: Any) -> None:
    quiet = scenes.quiet()
    scope = drafts.scope_of(Draft(), quiet, (3, 4))
    assert drafts.say_words("evacuate", scope) == (
        "Evacuate, evacuate, evacuate. Crew Alpha 2: come out now. Acknowledge."
    )


def test_open_orders_only(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    over = replace(order, number=2, is_open=False)
    picture = replace(scenes.quiet(), orders=(order, over))
    assert [o.number for o in drafts.open_orders(picture)] == [1]
    assert drafts.called_order(order) == "EVACUATE everybody"
    # One that is over waits for nobody.
    only_over = replace(picture, orders=(over,))
    assert drafts.voice_answer(only_over, (4,)) == Say("no order waits for 4 Alpha 2-2")
