"""Every effect of a key that is an act becomes the right one."""

import pytest

from monitor.board.acts.effects import (
    AnswerForThem,
    Asking,
    CloseAnOrder,
    EmergencyState,
    GiveAnOrder,
    Move,
    PutAsideAlarm,
    Reading,
    ResetAlarm,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
    act_of,
)


@pytest.mark.parametrize(
    ("effect", "what", "fields"),
    [
        (TakeAlarms((3, 4), ""), "acknowledge", {"alarms": (3, 4)}),
        (ResetAlarm(3, "by mistake", ""), "reset", {"alarm": 3, "reason": "by mistake"}),
        (
            PutAsideAlarm(5, 10, "crew told", ""),
            "put_aside",
            {"alarm": 5, "minutes": 10, "reason": "crew told"},
        ),
        (TakeBackAlarm(5, ""), "take_back", {"alarm": 5}),
        (SilenceSound(60, ""), "silence", {"seconds": 60}),
        (
            Reading((4,), 147.0, ""),
            "spoken_reading",
            {"wearers": (4,), "pressure_bar": 147.0, "lowest": False},
        ),
        (
            Reading((3, 4), 170.0, "", lowest=True),
            "spoken_reading",
            {"wearers": (3, 4), "pressure_bar": 170.0, "lowest": True},
        ),
        (
            GiveAnOrder("evacuate", (), "everybody", "", "command", ""),
            "give_order",
            {
                "order": "evacuate",
                "wearers": (),
                "everybody": True,
                "scope": "everybody",
                "reason": "",
                "on_order_of": "command",
            },
        ),
        (
            GiveAnOrder("come out", (3, 4), "crew Alpha 2", "unwell or confused", "", ""),
            "give_order",
            {"wearers": (3, 4), "everybody": False, "reason": "unwell or confused"},
        ),
        (AnswerForThem(2, (3, 4), ""), "answer_by_voice", {"order": 2, "wearers": (3, 4)}),
        (CloseAnOrder(2, "see log", ""), "close_order", {"order": 2, "override": "see log"}),
        (
            EmergencyState("Alpha 4", "stood down", ""),
            "emergency_crew",
            {"crew": "Alpha 4", "state": "stood down"},
        ),
        (Move("objective", (4,), ""), "reach_objective", {"wearers": (4,), "pressure_bar": None}),
        (Move("new objective", (4,), ""), "new_objective", {"wearers": (4,), "location": ""}),
        (Move("start back", (4,), ""), "start_back", {"wearers": (4,), "at_ns": None}),
        (Move("other supply", (4,), ""), "augment_supply", {"wearers": (4,), "on": True}),
        (Move("own supply", (4,), ""), "augment_supply", {"wearers": (4,), "on": False}),
        (Move("connect", (4,), ""), "connect", {"wearers": (4,), "pressure_bar": None}),
        (Move("enter", (4, 5), ""), "enter", {"wearers": (4, 5)}),
        (Move("out", (4,), ""), "come_out", {"wearers": (4,)}),
        (Move("off air", (4,), ""), "off_air", {"wearers": (4,)}),
    ],
)
def test_act(effect: Asking, what: str, fields: dict[str, object]) -> None:
    act = act_of(effect, "test-act-1", "R. Harrow", 77)
    assert (act.what, act.id, act.by, act.seen_ns) == (what, "test-act-1", "R. Harrow", 77)
    assert {name: getattr(act, name) for name in fields} == fields
