"""The opening sheet, key by key."""

from collections.abc import Callable
from typing import Any

import pytest

from monitor.board.sheets.forms import NEEDED, PICK, Filling, Made
from monitor.board.sheets.opening import Offer, Opening, links_said, offered, opening_form
from monitor.settings import Settings

MakeOffer = Callable[..., Offer]


def press(filling: Filling[Opening], keys: str) -> Any:
    """Press these one by one; ``/`` stands for Enter, ``~`` wipes."""
    named = {"/": "enter", "~": "ctrl+u"}
    done = None
    for key in keys:
        done = filling.press(named.get(key, key), None if key in named else key)
    return done


def sheet(
    offer: Offer, said: dict[str, Any] | None = None, *, clock_checked: bool = False
) -> Filling[Opening]:
    return Filling(opening_form(Settings(**(said or {})), offer, clock_checked=clock_checked))


def test_a_whole_opening(make_offer: MakeOffer) -> None:
    filling = sheet(make_offer())
    done = press(filling, "Kiln Lane/brick works/A/Kiln works/R. Harrow/1/3/stage 1/1///1/")
    assert done == Made(
        Opening(
            {
                "name": "Kiln Lane", "place": "brick works", "entry_point": "A",
                "operation": "Kiln works", "officer": "R. Harrow", "use": "exercise",
                "procedure": "plain", "stage": "stage 1", "roster": "kiln-lane",
                "links": (), "key": "",
            },
            clock_checked=True,
        )
    )  # fmt: skip
    assert Settings().with_options(done.what.said).procedure == "plain"


@pytest.mark.parametrize("question", ["name", "officer", "use", "procedure", "clock_checked"])
def test_nothing_that_decides_is_assumed(make_offer: MakeOffer, question: str) -> None:
    """Also where others have been used before: they are offered, not chosen."""
    filling = sheet(make_offer(last_procedure="uk-guidance", last_roster="x.csv"))
    assert filling.answers[question] == ""
    filling.place = [one.name for one in filling.form.fields].index(question)
    press(filling, "/")
    assert filling.complaint == NEEDED
    assert filling.asked.name == question


def test_exercise_or_real_is_one_of_two(make_offer: MakeOffer) -> None:
    filling = sheet(make_offer(), {"name": "Kiln Lane", "officer": "R. Harrow"})
    press(filling, "/////x")
    assert filling.asked.name == "use"
    assert filling.complaint == PICK
    press(filling, "2/")
    assert filling.answers["use"] == "real"


def test_what_was_said_stands_there(make_offer: MakeOffer) -> None:
    said = {
        "name": "Kiln Lane", "place": "brick works", "entry_point": "A", "operation": "J",
        "stage": "1", "officer": "R. Harrow", "use": "real", "procedure": "plain",
        "roster": "kiln-lane", "links": ("udp:5000", "serial:/dev/radio"), "key": "real.key",
    }  # fmt: skip
    done = press(sheet(make_offer(), said, clock_checked=True), "/" * 12)
    assert done.what.said == said
    assert done.what.clock_checked
    assert press(sheet(make_offer(), said), "/" * 11 + "2/").what.clock_checked is False


def test_the_ones_used_last_are_the_first_picks(make_offer: MakeOffer) -> None:
    form = opening_form(
        Settings(),
        make_offer(last_procedure="/srv/ours.toml", last_roster="kiln-lane"),
        clock_checked=False,
    )
    by_name = {one.name: one for one in form.fields}
    assert by_name["procedure"].picks[:2] == ("/srv/ours.toml", "fwdv7")
    assert "1 is the one used last" in by_name["procedure"].hint
    assert by_name["roster"].picks == ("kiln-lane",)
    assert "1 is the one used last" in by_name["roster"].hint


@pytest.mark.parametrize(
    ("keys", "question", "complaint"),
    [
        ("A/////", "officer", NEEDED),
        ("A////B/1/nix/", "procedure", "no such procedure"),
        ("A////B/1/3//nobody/", "roster", "no such roster"),
        ("A////B/1/3///udp:1/", "links", "not exercise"),
        ("A////B/2/3////exercise.key/", "key", "the other key file"),
        ("A////B/1/3///udp:2//1/", "links", "the port is in use"),
        ("A" * 61, "name", "at most 60 characters"),
    ],
)
def test_each_answer_is_checked_and_nothing_typed_is_lost(
    make_offer: MakeOffer, keys: str, question: str, complaint: str
) -> None:
    filling = sheet(make_offer())
    assert press(filling, keys) is None
    assert (filling.asked.name, filling.complaint) == (question, complaint)
    assert filling.answers["name"].startswith("A")


def test_a_key_that_fitted_until_the_use_was_changed_is_looked_at_again(
    make_offer: MakeOffer,
) -> None:
    said = {
        "name": "A", "officer": "B", "use": "real", "procedure": "plain", "key": "real.key",
    }  # fmt: skip
    filling = sheet(make_offer(), said)
    press(filling, "/////1//////")
    assert (filling.asked.name, filling.complaint) == ("key", "the other key file")
    done = press(filling, "~/1/")
    assert done.what.said == {**Settings().model_dump(include=set(done.what.said)), **said,
                              "use": "exercise", "key": ""}  # fmt: skip


def test_links_as_typed() -> None:
    assert links_said(" udp:5000, serial:/dev/radio@9600 ,") == (
        "udp:5000", "serial:/dev/radio@9600",
    )  # fmt: skip
    assert links_said("") == ()


def test_no_more_is_offered_than_there_are_digits() -> None:
    assert offered("b", ("a", "b", "c")) == ("b", "a", "c")
    assert len(offered("", tuple("abcdefghijkl"))) == 9
