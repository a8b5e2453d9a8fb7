"""Orders typed at the plain board."""

from typing import Any

import pytest

from monitor.board.acts.effects import (
    AnswerForThem,
    CloseAnOrder,
    CrewState,
    EmergencyState,
    GiveAnOrder,
)
from monitor.board.plain.commands import HELP, command


@pytest.mark.parametrize(
    ("typed", "order", "wearers", "scope"),
    [
        ("evacuate all", "evacuate", (), "everybody"),
        ("EVACUATE  All ", "evacuate", (), "everybody"),
        ("evacuate 4", "evacuate", (4,), "Alpha 2-2"),
        ("evacuate 4 7", "evacuate", (4, 7), "Alpha 2-2 and Alpha 4-1"),
        ("evacuate crew 4 7", "evacuate", (3, 4, 7, 8), "crew Alpha 2 and crew Alpha 4"),
        ("comeout 4", "come out", (3, 4), "crew Alpha 2"),
        ("roll", "roll call", (), "everybody"),
        ("roll crew 4", "roll call", (3, 4), "crew Alpha 2"),
        ("test all", "test", (), "everybody"),
        ("test 4", "test", (4,), "Alpha 2-2"),
    ],
)
def test_orders(scenes: Any, typed: str, order: str, wearers: tuple[int, ...], scope: str) -> None:
    found = command(typed, scenes.quiet())
    assert isinstance(found, GiveAnOrder)
    assert (found.order, found.wearers, found.scope) == (order, wearers, scope)
    assert (found.reason, found.on_order_of) == ("", "")


def test_a_reason_and_whose_order_in_ones_own_words(scenes: Any) -> None:
    found = command("comeout 4 Unwell, says so by: M. Ash, command", scenes.quiet())
    assert isinstance(found, GiveAnOrder)
    assert (found.reason, found.on_order_of) == ("Unwell, says so", "M. Ash, command")
    found = command("evacuate all by: M. Ash", scenes.quiet())
    assert isinstance(found, GiveAnOrder)
    assert found.on_order_of == "M. Ash"


@pytest.mark.parametrize(
    "typed",
    [
        "evacuate", "evacuate 99", "evacuate 4 99", "evacuate 4 x", "evacuate crew",
        "evacuate -4", "evacuate all 4", "evacuate everybody", "test", "evacuate by: M. Ash",
        "roll 99",
    ],
)  # fmt: skip
def test_nobody_named_is_never_everybody(scenes: Any, typed: str) -> None:
    (said,) = command(typed, scenes.quiet())  # type: ignore[misc]
    assert said.endswith("say all, numbers, or crew and numbers of wearers on the board.")


def test_come_out_needs_a_number(scenes: Any) -> None:
    for typed in ("comeout", "comeout all", "comeout 99", "comeout gauge"):
        assert command(typed, scenes.quiet()) == ["comeout: say numbers of wearers on the board."]


def test_answers_by_voice(scenes: Any) -> None:
    picture = scenes.evacuation()
    assert command("voice 6", picture) == AnswerForThem(1, (6,), "by voice: 6 Alpha 3-2: evacuate")
    found = command("voice crew 4", picture)
    assert isinstance(found, AnswerForThem)
    assert found.wearers == (4,)
    assert command("voice 7", picture) == ["No order waits for 7 Alpha 4-1."]
    for typed in ("voice", "voice 99", "voice 6 x"):
        assert command(typed, picture) == ["voice: say the numbers of wearers on the board."]


def test_closing_needs_a_reason(scenes: Any) -> None:
    picture = scenes.evacuation()
    assert command("close 1 All seen at door B", picture) == CloseAnOrder(
        1, "All seen at door B", "close EVACUATE everybody: All seen at door B"
    )
    assert command("close 2 seen", picture) == ["No such order stands."]
    for typed in ("close", "close 1"):
        assert command(typed, picture) == ["close: say the number of an order, and why."]


@pytest.mark.parametrize(
    ("typed", "state"),
    [("ready 7", "ready"), ("commit 7", "committed"), ("standdown 7", "stood down")],
)
def test_emergency_crews(scenes: Any, typed: str, state: CrewState) -> None:
    assert command(typed, scenes.quiet()) == EmergencyState(
        "Alpha 4",
        state,
        f"emergency crew {state}: Alpha 4",
    )
    word = typed.split(maxsplit=1)[0]
    for wrong in (word, f"{word} 99", f"{word} 7 x"):
        assert command(wrong, scenes.quiet()) == [
            f"{word}: say the number of a wearer of that crew."
        ]
    assert command(f"{word} 4 7", scenes.quiet()) == ["Emergency crew: one crew at a time."]


def test_what_stands(scenes: Any) -> None:
    said = command("orders", scenes.evacuation())
    assert isinstance(said, list)
    assert said[0].startswith("Order 1, EVACUATE everybody")
    assert command("orders", scenes.quiet()) == ["No orders."]
    assert command("orders now", scenes.quiet()) == ["Not understood: orders now. Type help."]


def test_help_has_them(scenes: Any) -> None:
    words = {line.split()[0] for line in HELP}
    assert words >= {"evacuate", "comeout", "roll", "test", "voice", "close", "ready", "commit"}
    assert command("help", scenes.quiet()) == list(HELP)
