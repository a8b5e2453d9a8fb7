"""What each role looks like: dark, daylight, sixteen colours, none.

Dark and daylight are exact colours, all text at least 4.5:1 against its ground (a test measures
it). With sixteen colours or ``NO_COLOR`` the terminal owns the colours, so weight, underline and
reversed blocks carry the meaning: danger is the most visible thing on every terminal.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from rich.style import Style
from textual.theme import Theme

from monitor.board.words.marks import Role


class Colours(Enum):
    """What the terminal can show."""

    FULL = "full"
    SIXTEEN = "sixteen"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Palette:
    """One look of the board."""

    name: str
    background: str
    styles: Mapping[Role, Style]
    exact: bool
    """False: the terminal's own colours."""

    @property
    def ground(self) -> Style:
        """What fills a line after its text."""
        return self.styles[Role.QUIET]


def _exact(name: str, ground: str, colours: Mapping[Role, tuple[str, str, str]]) -> Palette:
    styles = {
        role: Style.parse(f"{extra} {text} on {back}")
        for role, (text, back, extra) in colours.items()
    }
    return Palette(name, ground, styles, exact=True)


_DARK_GROUND = "#1c1e20"
_DARK_RED = "#d01030"
_YELLOW = "#f2cc0c"
DARK = _exact(
    "dark",
    _DARK_GROUND,
    {
        Role.QUIET: ("#c8c8c8", _DARK_GROUND, ""),
        Role.TEXT: ("#f0f0f0", _DARK_GROUND, ""),
        Role.STRONG: ("#f0f0f0", _DARK_GROUND, "bold"),
        Role.FAINT: ("#9a9ea2", _DARK_GROUND, ""),
        Role.ESTIMATE: ("#9a9ea2", _DARK_GROUND, "italic"),
        Role.DANGER: ("#ffffff", _DARK_RED, "bold"),
        Role.CAUTION: ("#101010", _YELLOW, "bold"),
        Role.DANGER_LOST: ("#ffffff", _DARK_RED, "bold underline"),
        Role.CAUTION_LOST: ("#101010", _YELLOW, "bold underline"),
        Role.BLOCK: ("#1c1e20", "#c8c8c8", "bold"),
        Role.SELECTED: ("#f0f0f0", "#3c4a5a", "bold"),
        Role.OLD: ("#8a8e92", _DARK_GROUND, ""),
    },
)

_LIGHT_GROUND = "#ecece8"
_LIGHT_RED = "#b3001b"
_AMBER = "#f2b705"
DAYLIGHT = _exact(
    "daylight",
    _LIGHT_GROUND,
    {
        Role.QUIET: ("#303030", _LIGHT_GROUND, ""),
        Role.TEXT: ("#000000", _LIGHT_GROUND, ""),
        Role.STRONG: ("#000000", _LIGHT_GROUND, "bold"),
        Role.FAINT: ("#5a5a5a", _LIGHT_GROUND, ""),
        Role.ESTIMATE: ("#5a5a5a", _LIGHT_GROUND, "italic"),
        Role.DANGER: ("#ffffff", _LIGHT_RED, "bold"),
        Role.CAUTION: ("#101010", _AMBER, "bold"),
        Role.DANGER_LOST: ("#ffffff", _LIGHT_RED, "bold underline"),
        Role.CAUTION_LOST: ("#101010", _AMBER, "bold underline"),
        Role.BLOCK: ("#ececec", "#303030", "bold"),
        Role.SELECTED: ("#000000", "#b8c8dc", "bold"),
        Role.OLD: ("#6a6a6a", _LIGHT_GROUND, ""),
    },
)


def _own(name: str, styles: Mapping[Role, str]) -> Palette:
    """Make a palette of the terminal's own colours."""
    parsed = {role: Style.parse(words or "default on default") for role, words in styles.items()}
    return Palette(name, "ansi_default", parsed, exact=False)


_PLAIN = {
    Role.QUIET: "",
    Role.TEXT: "",
    Role.STRONG: "bold",
    Role.FAINT: "",
    Role.ESTIMATE: "italic",
    Role.CAUTION: "bold underline",
    Role.CAUTION_LOST: "bold underline",
    Role.BLOCK: "bold",
    Role.SELECTED: "bold underline",
    Role.OLD: "dim",
}
SIXTEEN = _own(
    "sixteen",
    _PLAIN
    | {
        Role.DANGER: "bold black on bright_white",
        Role.DANGER_LOST: "bold underline black on bright_white",
    },
)
NO_COLOUR = _own(
    "no colour",
    _PLAIN | {Role.DANGER: "bold reverse", Role.DANGER_LOST: "bold underline reverse"},
)


def colours_of(environ: Mapping[str, str], color_system: str | None) -> Colours:
    """Give what may be shown; ``color_system`` is what the terminal library found out."""
    if environ.get("NO_COLOR"):
        return Colours.NONE
    if color_system in {"256", "truecolor"}:
        return Colours.FULL
    return Colours.NONE if color_system is None else Colours.SIXTEEN


def palettes(colours: Colours) -> tuple[Palette, ...]:
    """Give the looks that the theme key goes through."""
    if colours is Colours.FULL:
        return (DARK, DAYLIGHT)
    return (SIXTEEN,) if colours is Colours.SIXTEEN else (NO_COLOUR,)


OWN_COLOURS = "ansi-dark"
"""The terminal library's theme that leaves every colour to the terminal."""


def theme_name(palette: Palette) -> str:
    """Give the name of the terminal library's theme that goes with a palette."""
    return f"outby-{palette.name}" if palette.exact else OWN_COLOURS


def textual_theme(palette: Palette) -> Theme:
    """Give the theme for what we do not draw ourselves, of a palette with exact colours."""
    ground = palette.background
    return Theme(
        name=theme_name(palette),
        primary="#9a9ea2",
        background=ground,
        surface=ground,
        foreground="#c8c8c8",
        dark=palette is not DAYLIGHT,
    )
