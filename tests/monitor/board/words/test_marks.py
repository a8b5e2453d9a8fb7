"""Signs are one cell wide, texts fit, text from outside cannot break a line."""

from dataclasses import astuple, replace

import pytest
from rich.cells import cell_len

from monitor.board.words.marks import ASCII, UNICODE, Glyphs, Role, block, clean, crop, fit, sign
from monitor.incident.picture import Priority


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
def test_every_sign_is_one_cell(glyphs: Glyphs) -> None:
    assert {cell_len(sign) for sign in astuple(replace(glyphs, dots="."))} == {1}


def test_ascii_signs_are_ascii() -> None:
    assert "".join(astuple(ASCII)).isascii()


def test_signs_that_mean_different_things_differ() -> None:
    for g in (UNICODE, ASCII):
        assert len({g.danger, g.caution, g.notice, g.lost, g.estimate, g.voice, g.entry}) == 7


@pytest.mark.parametrize(
    ("priority", "lost", "role", "mark"),
    [
        (None, False, Role.QUIET, " "),
        (None, True, Role.STRONG, "?"),
        (Priority.NOTICE, False, Role.STRONG, "•"),
        (Priority.CAUTION, False, Role.CAUTION, "▲"),
        (Priority.CAUTION, True, Role.CAUTION_LOST, "?"),
        (Priority.DANGER, False, Role.DANGER, "■"),
        (Priority.DANGER, True, Role.DANGER_LOST, "■"),
    ],
)
def test_role_and_sign_go_together(
    priority: Priority | None, lost: bool, role: Role, mark: str
) -> None:
    assert block(priority, lost=lost) is role
    assert sign(priority, UNICODE, lost=lost) == mark


def test_fit_pads_and_cuts_with_a_sign() -> None:
    assert fit("low", 5, UNICODE) == "low  "
    assert fit("lowest", 5, UNICODE) == "lowe…"
    assert cell_len(fit("配管室の奥", 5, UNICODE)) == 5


def test_crop_counts_cells() -> None:
    line = (("abc", Role.TEXT), ("def", Role.STRONG))
    assert crop(line, 4) == (("abc", Role.TEXT), ("d", Role.STRONG))
    assert crop(line, 3) == (("abc", Role.TEXT),)


def test_clean_leaves_no_control_character() -> None:
    assert clean("a\x1b[2Jb\nc") == "a\\x1b[2Jb\\nc"
