"""The opening sheet as lines: caution, question, procedure and links, whatever the size."""

from collections.abc import Callable
from typing import Any

import pytest
from rich.cells import cell_len

from monitor import procedures
from monitor.board.pages.opening_page import Around, LinkTry, opening_page, wrapped
from monitor.board.sheets.forms import Filling
from monitor.board.sheets.opening import Offer, Opening, opening_form
from monitor.board.words.marks import Role
from monitor.settings import Settings

MakeOffer = Callable[..., Offer]
PLAIN = procedures.load("plain")
LINKS = (LinkTry("udp 41901"), LinkTry("serial /dev/radio at 9600 baud", "there is no such port"))
QUESTIONS = 12
WITH_PICKS_OF_RULES = (6, 8)
"""Procedure and roster: on 24 lines the values of the procedure take the room of the links."""


def at(offer: Offer, question: int, settings: Settings | None = None) -> Filling[Opening]:
    """The sheet at its question of that number."""
    form = opening_form(settings or Settings(), offer, clock_checked=False)
    return Filling(form, place=question)


def texts(lines: Any) -> list[str]:
    return ["".join(text for text, _ in line).rstrip() for line in lines]


@pytest.mark.parametrize("place", range(QUESTIONS))
@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_all_is_on_the_screen(
    scenes: Any, make_offer: MakeOffer, place: int, size: tuple[int, int]
) -> None:
    around = Around(PLAIN, LINKS[:1], "14:32:07  2025-03-14  UTC+0000")
    page = texts(opening_page(at(make_offer(), place), scenes.look(*size), around))
    assert len(page) == size[1]
    assert page[0].startswith("An aid, not a certified safety device.")
    assert page[2] == "This machine's clock: 14:32:07  2025-03-14  UTC+0000"
    assert sum(line.endswith("_") for line in page) == 1
    for label in ("incident", "officer", "exercise or real", "procedure", "clock checked"):
        assert any(line.strip().startswith(label) for line in page)
    if size[1] > 24 or place not in WITH_PICKS_OF_RULES:
        assert "udp 41901: opens" in page
    assert page[-1] == "Enter next  Up back  digits pick  Backspace  Ctrl+U wipe  Esc leave it"


@pytest.mark.parametrize("place", [6, 7, 8])
def test_the_procedure_that_is_chosen_with_its_main_values(
    scenes: Any, make_offer: MakeOffer, place: int
) -> None:
    """The figures are those of the file: 50 L/min, 10 min, half, 0.35 of rated pressure."""
    page = texts(opening_page(at(make_offer(), place), scenes.look(), Around(PLAIN, LINKS)))
    start = page.index("plain: Plain procedure, 35 % low air")
    told = [" ".join(line.split()) for line in page[start + 1 : start + 5]]
    for line, words in zip(
        told,
        ("planning rate 50 L/min common practice", "margin 10 min common practice",
         "turn-back half of the usable air common", "low-air warning 35 % of rated pressure"),
        strict=True,
    ):  # fmt: skip
        assert line.startswith(words)


def test_no_procedure_and_no_use_are_said(scenes: Any, make_offer: MakeOffer) -> None:
    page = texts(opening_page(at(make_offer(), 0), scenes.look(), Around()))
    assert "procedure: none chosen" in page
    assert "links: say exercise or real first" in page


def test_a_link_that_does_not_open_stands_out(scenes: Any, make_offer: MakeOffer) -> None:
    lines = opening_page(at(make_offer(), 9), scenes.look(), Around(PLAIN, LINKS))
    ((text, role),) = next(line for line in lines if line and "DOES NOT OPEN" in line[0][0])
    assert text.rstrip() == "serial /dev/radio at 9600 baud: DOES NOT OPEN: there is no such port"
    assert role is Role.CAUTION


def test_what_is_wrong_is_told_to_its_end(scenes: Any, make_offer: MakeOffer) -> None:
    filling = at(make_offer(), 9)
    filling.complaint = (
        "that link is for real incidents only: udp:41900: name another, or take it out of the"
        " setting real_links"
    )
    page = texts(opening_page(filling, scenes.look(), Around(PLAIN, LINKS)))
    assert " ".join(page[-3:-1]) == f"KEYS WRITE  links: {filling.complaint}"


def test_leaving_asks(scenes: Any, make_offer: MakeOffer) -> None:
    page = texts(opening_page(at(make_offer(), 3), scenes.look(), Around(leaving=True)))
    assert page[-2] == "LEAVE? Nothing is opened. Esc again leaves, any other key goes on."


@pytest.mark.parametrize("width", [40, 80, 200])
@pytest.mark.parametrize("height", [1, 2, 5, 8, 9, 12, 17, 24, 60])
@pytest.mark.parametrize("place", [0, 6, 11])
def test_any_size_has_the_question_and_is_never_wider(
    scenes: Any, make_offer: MakeOffer, width: int, height: int, place: int
) -> None:
    filling = at(make_offer(), place, Settings(name="窯焼" * 20, place="x" * 200))
    lines = opening_page(filling, scenes.look(width, height), Around(PLAIN, LINKS * 4, "14:32"))
    assert len(lines) == height
    for line in texts(lines):
        assert cell_len(line) <= width
    if height >= 5:
        assert sum(line.endswith("_") for line in texts(lines)) == 1


def test_a_sentence_is_broken_at_blanks() -> None:
    assert wrapped("a bb ccc", 4) == ["a bb", "ccc"]
    assert wrapped("窯焼 次郎", 5) == ["窯焼", "次郎"]
    assert wrapped("", 5) == [""]
