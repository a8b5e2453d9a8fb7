"""Contrast of every role in both themes; without exact colours, danger stands out most."""

import pytest
from rich.color import Color
from rich.style import Style

from monitor.board.terminal.themes import (
    DARK,
    DAYLIGHT,
    NO_COLOUR,
    SIXTEEN,
    Colours,
    Palette,
    colours_of,
    palettes,
    textual_theme,
    theme_name,
)
from monitor.board.words.marks import Role


def luminance(color: Color) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = []
    for part in color.get_truecolor():
        c = part / 255
        parts.append(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
    r, g, b = parts
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(style: Style) -> float:
    """(L1 + 0.05) / (L2 + 0.05), WCAG 2.2."""
    assert style.color is not None
    assert style.bgcolor is not None
    lighter, darker = sorted((luminance(style.color), luminance(style.bgcolor)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_measure_itself() -> None:
    # WCAG: black on white is 21:1, the greatest there is; #777777 on white 4.48, just too little
    assert contrast(Style.parse("#000000 on #ffffff")) == pytest.approx(21.0)
    assert contrast(Style.parse("#777777 on #ffffff")) == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("palette", [DARK, DAYLIGHT], ids=lambda p: p.name)
@pytest.mark.parametrize("role", list(Role))
def test_every_role_can_be_read(palette: Palette, role: Role) -> None:
    assert contrast(palette.styles[role]) >= 4.5


@pytest.mark.parametrize("palette", [DARK, DAYLIGHT, SIXTEEN, NO_COLOUR], ids=lambda p: p.name)
def test_every_role_has_a_style(palette: Palette) -> None:
    assert set(palette.styles) == set(Role)


@pytest.mark.parametrize("palette", [DARK, DAYLIGHT], ids=lambda p: p.name)
def test_colour_is_for_the_abnormal_only(palette: Palette) -> None:
    """Everything else is grey, or nearly: red, green and blue within 30 of one another."""
    abnormal = {Role.DANGER, Role.CAUTION, Role.DANGER_LOST, Role.CAUTION_LOST, Role.SELECTED}
    for role in set(Role) - abnormal:
        style = palette.styles[role]
        for color in (style.color, style.bgcolor):
            assert color is not None
            assert max(color.get_truecolor()) - min(color.get_truecolor()) <= 30


def test_danger_without_colour_is_the_only_block() -> None:
    blocks = {role for role, style in NO_COLOUR.styles.items() if style.reverse}
    assert blocks == {Role.DANGER, Role.DANGER_LOST}
    backs = {role for role, s in SIXTEEN.styles.items() if s.bgcolor and not s.bgcolor.is_default}
    assert backs == {Role.DANGER, Role.DANGER_LOST}
    for palette in (NO_COLOUR, SIXTEEN):
        for role in (Role.CAUTION, Role.CAUTION_LOST):
            assert palette.styles[role].bold
            assert palette.styles[role].underline


def test_loss_of_signal_is_underlined_not_one_more_colour() -> None:
    for palette in (DARK, DAYLIGHT):
        for plain, lost in (
            (Role.DANGER, Role.DANGER_LOST),
            (Role.CAUTION, Role.CAUTION_LOST),
        ):
            assert palette.styles[lost] == palette.styles[plain] + Style(underline=True)


@pytest.mark.parametrize(
    ("environ", "system", "colours"),
    [
        ({}, "truecolor", Colours.FULL),
        ({}, "256", Colours.FULL),
        ({}, "standard", Colours.SIXTEEN),
        ({}, None, Colours.NONE),
        ({"NO_COLOR": "1"}, "truecolor", Colours.NONE),
        # no-color.org: "when present and not an empty string"
        ({"NO_COLOR": ""}, "truecolor", Colours.FULL),
    ],
)
def test_what_a_terminal_can_show(
    environ: dict[str, str], system: str | None, colours: Colours
) -> None:
    assert colours_of(environ, system) is colours


def test_palettes_and_their_names() -> None:
    assert palettes(Colours.FULL) == (DARK, DAYLIGHT)
    assert palettes(Colours.SIXTEEN) == (SIXTEEN,)
    assert palettes(Colours.NONE) == (NO_COLOUR,)
    assert theme_name(NO_COLOUR) == theme_name(SIXTEEN) == "ansi-dark"
    assert textual_theme(DAYLIGHT).name == "outby-daylight"
    assert textual_theme(DAYLIGHT).dark is False
