import pytest
from pydantic import ValidationError

from monitor.incident.events import Enter, LinkState, ListWearer, SetCrew, Setup
from monitor.sound.tones import CYCLES_MAX

REDRAWS = "Alpha\x1b[2J"
"""ECMA-48 control sequence ED: clears a terminal's screen."""
TURNS = "Alpha\u202e1"
"""Unicode right-to-left override: shows the rest backwards."""


@pytest.mark.parametrize("text", [REDRAWS, TURNS, "two\nlines", "bell\a"])
def test_no_text_of_a_person_can_redraw_the_screen(text: str) -> None:
    usual = {"id": "act-00001", "by": "R. Harrow"}
    for model, fields in (
        (ListWearer, {"wearer": 1, "name": text}),
        (ListWearer, {"wearer": 1, "name": "A", "call_sign": text}),
        (SetCrew, {"wearer": 1, "crew": text}),
        (Enter, {"wearers": (1,), "location": text}),
        (Enter, {"wearers": (1,), "by": text}),
    ):
        with pytest.raises(ValidationError, match=r"printable|at most 20"):
            model.model_validate({**usual, **fields})


def test_letters_of_any_script_are_text() -> None:
    named = ListWearer(id="act-00001", by="R. Harrow", wearer=1, name="\u0141ucja \u5c71\u7530")
    assert named.name == "\u0141ucja \u5c71\u7530"


def test_what_the_system_says_is_shown_with_its_odd_characters_marked() -> None:
    assert LinkState(link=1, name=REDRAWS, up=False, detail="a\nb").name == "Alpha\\x1b[2J"


@pytest.mark.parametrize(
    "wrong", [{"evacuation_tone": CYCLES_MAX + 1}, {"incidents_folder": "/a/\0x"},
              {"key": "\0"}, {"links": ["serial:/dev/\0"]}],
)  # fmt: skip
def test_a_setup_that_no_recorder_had_is_not_understood(wrong: dict[str, object]) -> None:
    """Whoever takes the incident up goes on with these: what cannot be is told as damage."""
    Setup.model_validate({"links": ["udp:1"], "evacuation_tone": CYCLES_MAX})
    with pytest.raises(ValidationError):
        Setup.model_validate({"links": ["udp:1"]} | wrong)
