"""The sheet that opens an incident: what it asks, and what must be right before it starts. Pure.

Nothing that decides about air is assumed: which procedure, and whether it is an exercise, are
always asked. What options or settings say stands there already. Looking at files and ports is
handed in.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from monitor.board.sheets.forms import PICKS_MAX, Answers, Field, Form, Refused
from monitor.incident.procedure import Procedure
from monitor.settings import Settings

NAME_MAX = 60
WORDS_MAX = 200
USES = ("exercise", "real")
YES, NO = "yes", "no"
TITLE = "OPENING AN INCIDENT"
OPEN_MODE = "empty: open mode, frames prove nothing of where they come from"


@dataclass(frozen=True, slots=True)
class Offer:
    """What there is to choose from, and how an answer is looked at; each says why not, or ''."""

    procedures: tuple[str, ...]
    rosters: tuple[str, ...]
    last_procedure: str
    """The one used last; empty: none is known."""
    last_roster: str
    procedure: Callable[[str], Procedure | str]
    roster: Callable[[str], str]
    links: Callable[[str, str], str]
    """Of links as typed, for an incident of that use."""
    key: Callable[[str, str], str]
    opens: Callable[[str, str], str]
    """Whether these links open now; asked once, at the end."""


@dataclass(frozen=True, slots=True)
class Opening:
    """All that was answered."""

    said: Mapping[str, object]
    """Settings by their names."""
    clock_checked: bool


def opening_form(settings: Settings, offer: Offer, *, clock_checked: bool) -> Form[Opening]:
    """Make the sheet, filled in with what is said already."""

    def made(answers: Answers) -> Opening | Refused:
        fault = offer.opens(answers["links"], answers["use"])
        if fault:
            return Refused(fault, "links")
        said: dict[str, object] = {n: text for n, text in answers.items() if n != "clock_checked"}
        said["links"] = links_said(answers["links"])
        return Opening(said, answers["clock_checked"] == YES)

    return Form(
        "opening",
        TITLE,
        (*_who_and_where(settings), *_rules(settings, offer), *_radio(settings, offer),
         Field("clock_checked", "clock checked", picks=(YES, NO), free=False,
               start=YES if clock_checked else "",
               hint="against control? This is the last question; then it opens")),
        made,
    )  # fmt: skip


def _who_and_where(settings: Settings) -> tuple[Field, ...]:
    return (
        Field("name", "incident", most=NAME_MAX, start=settings.name, hint="its name"),
        Field("place", "place", most=WORDS_MAX, start=settings.place, needed=False,
              hint="where it is; may stay empty"),
        Field("entry_point", "entry point", most=WORDS_MAX, start=settings.entry_point,
              needed=False, hint="the door of this board, such as A; may stay empty"),
        Field("operation", "operation", most=NAME_MAX, start=settings.operation, needed=False,
              hint="one name at every door that belongs together; may stay empty"),
        Field("officer", "officer", most=NAME_MAX, start=settings.officer,
              hint="whose board it is; stands beside every act"),
        Field("use", "exercise or real", picks=USES, free=False, start=settings.use,
              hint="nothing is assumed"),
    )  # fmt: skip


def _rules(settings: Settings, offer: Offer) -> tuple[Field, ...]:
    def procedure(answer: str, _answers: Answers) -> str:
        found = offer.procedure(answer)
        return found if isinstance(found, str) else ""

    def roster(answer: str, _answers: Answers) -> str:
        return offer.roster(answer)

    return (
        Field("procedure", "procedure", picks=offered(offer.last_procedure, offer.procedures),
              start=settings.procedure, most=WORDS_MAX, check=procedure,
              hint=_last("the rules in force", offer.last_procedure)),
        Field("stage", "stage", most=WORDS_MAX, start=settings.stage, needed=False,
              hint="or control level, in the procedure's words; may stay empty"),
        Field("roster", "roster", picks=offered(offer.last_roster, offer.rosters),
              start=settings.roster, most=WORDS_MAX, needed=False, check=roster,
              hint=_last("people, TOML or CSV; may stay empty", offer.last_roster)),
    )  # fmt: skip


def _radio(settings: Settings, offer: Offer) -> tuple[Field, ...]:
    def links(answer: str, answers: Answers) -> str:
        return offer.links(answer, answers["use"])

    def key(answer: str, answers: Answers) -> str:
        return offer.key(answer, answers["use"])

    return (
        Field("links", "links", start=", ".join(settings.links), needed=False, check=links,
              hint="udp:PORT, serial:DEVICE; empty: as in the settings"),
        Field("key", "key file", start=settings.key, most=WORDS_MAX, needed=False, check=key,
              hint=OPEN_MODE),
    )  # fmt: skip


def offered(last: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """Numbered answers: the one used last, then the others, each once."""
    return tuple(dict.fromkeys(name for name in (last, *known) if name))[:PICKS_MAX]


def _last(words: str, last: str) -> str:
    return f"{words}; 1 is the one used last" if last else f"{words}; a number, or a file"


def links_said(text: str) -> tuple[str, ...]:
    """Links as typed, one by one."""
    return tuple(part.strip() for part in text.split(",") if part.strip())
