"""What ``outby watch`` asks before it opens an incident, where options do not say it all.

On a terminal that draws it is a sheet on the screen, else the same questions line by line. Here
are the edges: files, ports, the clock, the keyboard. The sheet itself is in ``monitor.board``.
"""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.options import missing_opening, require_opening
from monitor.errors import OutbyError
from monitor.last_opening import PATH_MAX
from shared import reading

if TYPE_CHECKING:
    from monitor.board.pages.opening_page import LinkTry
    from monitor.board.sheets.forms import Answers, Form
    from monitor.board.sheets.opening import Offer, Opening
    from monitor.incident.procedure import Procedure
    from monitor.last_opening import LastOpening
    from monitor.settings import Settings

BACK = "<"
NONE = "-"
CANCEL = "cancel"
FILES = ("procedure", "roster", "key")
"""Answers that may be paths."""

Answered = tuple["Settings", bool]
"""Settings with the answers in them; whether the clock was checked."""


def asked(
    settings: "Settings", *, clock_checked: bool, draws: bool, typed: bool
) -> Answered | None:
    """Give what is needed to open an incident: as it was said, else as it is answered.

    ``draws``: the sheet can be on the screen; ``typed``: somebody is at the keyboard. None: it was
    left, and nothing is to be opened. Raises BadUsage where nobody can be asked.
    """
    if not missing_opening(settings):
        return settings, clock_checked
    if not typed:
        require_opening(settings)
    from monitor import last_opening
    from monitor.board.sheets.opening import opening_form

    form_offer = offer(settings, last_opening.load(last_opening.file_path()))
    form = opening_form(settings, form_offer, clock_checked=clock_checked)
    opening = _on_screen(form, settings) if draws else line_by_line(form, settings, _line, print)
    if opening is None:
        return None
    chosen = settings.with_options({**opening.said, **_whole_paths(opening)})
    return chosen, opening.clock_checked


def remember(settings: "Settings") -> None:
    """Keep what was chosen, to be offered next time."""
    from monitor import last_opening, procedures, roster

    last_opening.keep(
        last_opening.file_path(),
        last_opening.LastOpening(
            procedure=_lasting(settings.procedure, procedures.names()),
            roster=_lasting(settings.roster, roster.names()),
        ),
    )


def _lasting(said: str, names: Sequence[str]) -> str:
    """A path that is good from every folder; nothing where it is too long to be typed again."""
    if said in names or not said:
        return said
    path = str(Path(said).absolute())
    return path if len(path) <= PATH_MAX else ""


def _whole_paths(opening: "Opening") -> dict[str, str]:
    """Paths with the home folder in full, which no shell has done here."""
    return {name: _home(str(opening.said[name])) for name in FILES}


def _home(text: str) -> str:
    return str(reading.home(text)) if text.startswith("~") else text


# ---------------------------------------------------------------- looking at what is typed


def offer(settings: "Settings", last: "LastOpening") -> "Offer":
    """What can be chosen, and how answers are looked at."""
    from monitor import procedures, roster
    from monitor.board.sheets.opening import Offer, links_said
    from monitor.links.apart import links_of

    def procedure(text: str) -> "Procedure | str":
        try:
            return procedures.load(_home(text))
        except OutbyError as error:
            return str(error)

    return Offer(
        procedures=procedures.names(),
        rosters=roster.names(),
        last_procedure=last.procedure,
        last_roster=last.roster,
        procedure=procedure,
        roster=lambda text: _why(lambda: roster.load(_home(text), settings.cylinders)),
        links=lambda text, use: _why(
            lambda: links_of(settings.with_options({"links": links_said(text)}), use)
        ),
        key=lambda text, use: _key_fault(_home(text), use),
        opens=lambda text, use: next(
            (one.words for one in try_links(settings, text, use) if one.fault), ""
        ),
    )


def _why(look: Callable[[], object]) -> str:
    """Why it cannot be, in one line; empty: it can."""
    try:
        look()
    except OutbyError as error:
        return str(error)
    return ""


def _key_fault(text: str, use: str) -> str:
    from monitor import keyfile

    try:
        made_for = keyfile.load(Path(text)).use
    except OutbyError as error:
        return str(error)
    return "" if made_for == use else f"made for use {made_for}; give the other key file"


def try_links(settings: "Settings", text: str, use: str) -> "Sequence[LinkTry]":
    """Open each link and close it again; what is not written as links are is told as one."""
    from monitor.board.pages.opening_page import LinkTry
    from monitor.board.sheets.opening import links_said
    from monitor.clock import Clock
    from monitor.links.apart import links_of
    from monitor.links.inbox import Inbox
    from monitor.links.opening import open_link

    try:
        specs = links_of(settings.with_options({"links": links_said(text)}), use)
    except OutbyError as error:
        return (LinkTry(text or "links", str(error)),)
    tries = []
    for number, spec in enumerate(specs, start=1):
        try:
            open_link(number, spec, Clock(), Inbox(lambda: None)).close()
        except OutbyError as error:
            tries.append(LinkTry(spec.name, f"{error.what}: {error.to_do}"))
        else:
            tries.append(LinkTry(spec.name))
    return tries


def clock_now() -> str:
    """What this machine's clock shows, with its zone."""
    from datetime import UTC, datetime

    from monitor.clock import Clock

    at = datetime.fromtimestamp(Clock().wall_ns() // 1_000_000_000, UTC).astimezone()
    return at.strftime("%H:%M:%S  %Y-%m-%d  UTC%z")


# ---------------------------------------------------------------- the two ways to ask


def _on_screen(form: "Form[Opening]", settings: "Settings") -> "Opening | None":
    import os

    from rich.console import Console

    from monitor import procedures
    from monitor.board.terminal.opening_app import OpeningApp, OpeningOptions
    from monitor.board.terminal.themes import colours_of
    from monitor.board.words.marks import GLYPHS
    from monitor.cli.terminal import ascii_only

    def rules(text: str) -> "Procedure | None":
        try:
            return procedures.load(_home(text)) if text else None
        except OutbyError:
            return None

    options = OpeningOptions(
        rules=rules,
        try_links=lambda text, use: try_links(settings, text, use),
        clock=clock_now,
        colours=colours_of(os.environ, Console(file=sys.__stderr__).color_system),
        daylight=settings.theme == "daylight",
        glyphs=GLYPHS["ascii" if ascii_only() else settings.glyphs],
    )
    return OpeningApp(form, options).run(mouse=settings.mouse)


def line_by_line(
    form: "Form[Opening]",
    settings: "Settings",
    line: Callable[[], str | None],
    out: Callable[[str], object],
) -> "Opening | None":
    """Ask on lines; ``line`` gives the next that is typed, None at the end of them."""
    from monitor.board.plain.sheets import question
    from monitor.board.sheets.forms import WIPE, Filling
    from monitor.cli.options import CAUTION

    filling = Filling(form)
    out(CAUTION)
    out(
        f"{form.title}. An empty line leaves what stands there, {NONE} takes it out, {BACK} goes"
        f" back, {CANCEL} leaves without opening."
    )
    while True:
        if filling.asked.name == "clock_checked":
            out(f"This machine's clock: {clock_now()}")
        out(question(filling))
        said = line()
        if said is None or said.strip().casefold() == CANCEL:
            return None
        if said.strip() == BACK:
            filling.press("up", None)
            continue
        if said.strip() == NONE:
            filling.press(WIPE, None)
            said = ""
        answered = filling.asked
        made = filling.fill(said)
        if made is not None:
            return made.what
        if filling.complaint:
            continue
        for told in _told(answered.name, filling.answers, settings):
            out(told)


def _told(name: str, answers: "Answers", settings: "Settings") -> Sequence[str]:
    """What is to be known of an answer that was just given."""
    from monitor import procedures
    from monitor.board.words.procedure_words import main_values

    if name == "procedure":
        rules = procedures.load(_home(answers["procedure"].strip()))
        rows = [f"  {what}: {value} ({source})" for what, value, source in main_values(rules)]
        return [f"{rules.name}: {rules.title}", *rows]
    if name == "links":
        return [f"  {one.words}" for one in try_links(settings, answers["links"], answers["use"])]
    return ()


def _line() -> str | None:
    """The next line that is typed; None at the end of them."""
    try:
        return input("> ")
    except EOFError:
        return None
