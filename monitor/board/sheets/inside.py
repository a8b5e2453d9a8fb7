"""Sheets for what is told of those inside, and for an emergency. Pure."""

from dataclasses import replace

from monitor.board.acts.effects import Say, WriteAct
from monitor.board.acts.questions import NOTES
from monitor.board.sheets.common import (
    MINUTE_NS,
    Context,
    Sheet,
    act,
    crews,
    labels,
    of_whom,
    one_of,
    picks,
    places,
    when_field,
    when_ns,
    who_field,
    whom,
)
from monitor.board.sheets.forms import Answers, Field, Form, Refused, number
from monitor.board.words.choosing import wearer_of
from monitor.incident.event_parts import TEXT_MAX

RELIEF_MIN_MAX = 240
NOT_PLANNED = "none"
"""In place of minutes. Leaving the answer empty must not undo a relief that was planned."""
THIS_BOARD = "this one"
AREA_STATES = ("searched", "part searched", "to search")
IT_IS_REAL = "it is real"


def place(context: Context) -> Sheet:
    """Where they are, as last told."""

    def make(answers: Answers) -> WriteAct:
        wearers = whom(context, answers)
        where = answers["place"]
        return act(
            "locate", f"{labels(context, wearers)} at {where}", wearers=wearers, location=where
        )

    fields = (*who_field(context), Field("place", "place", picks=picks(places(context.picture))))
    return Form("place", f"PLACE{of_whom(context)}", fields, make, context.chosen)


def area(context: Context) -> Sheet:
    """An area that was searched, in part or whole, or is to be."""
    known = [one.area for one in context.picture.areas]

    def make(answers: Answers) -> WriteAct:
        name, state = answers["area"], answers["state"]
        found = {"area": name, "state": state, "wearers": whom(context, answers)}
        return act("search_area", f"{name}: {state}", **found)

    fields = (
        Field("area", "area", most=60, picks=picks((*known, *places(context.picture)))),
        Field("state", "how far", picks=AREA_STATES, free=False),
        *who_field(context, needed=False),
    )
    return Form("area", f"AREA SEARCHED{of_whom(context)}", fields, make, context.chosen)


def note(context: Context) -> Sheet:
    """A remark in one's own words, of one wearer or of none."""
    one = replace(context, chosen=context.chosen[-1:])

    def make(answers: Answers) -> WriteAct:
        whose = one.chosen[0] if one.chosen else None
        return act("note", f"note: {answers['text']}", text=answers["text"], wearer=whose)

    fields = (Field("text", "note", picks=picks(NOTES)),)
    return Form("note", f"NOTE{of_whom(one)}", fields, make, one.chosen)


def relief(context: Context) -> Sheet | Say:
    """A crew is to be relieved, by whom and when."""
    picture = context.picture
    inside = tuple(dict.fromkeys(w.crew for w in picture.wearers if w.under_air and w.crew))
    if not inside:
        return Say("no crew is in that could be relieved")
    chosen = wearer_of(picture, context.chosen[0]) if context.chosen else None
    start = chosen.crew if chosen is not None and chosen.crew in inside else ""

    def make(answers: Answers) -> WriteAct | Refused:
        crew, by, minutes = answers["crew"], answers["by"], answers["minutes"]
        if by == crew:
            return Refused("another crew than the one that is relieved", "by")
        planned = minutes != NOT_PLANNED
        due_ns = context.present.t + int(minutes) * MINUTE_NS if planned else None
        words = f"{crew}: relief in {minutes} min" if planned else f"{crew}: no relief planned"
        return act("plan_relief", words, crew=crew, by_crew=by, due_ns=due_ns)

    check = one_of(inside, "a crew that is in")
    until = number(0, RELIEF_MIN_MAX, "minutes", whole=True)

    def minutes(said: str, answers: Answers) -> str:
        return "" if said == NOT_PLANNED else until(said, answers)

    fields = (
        Field("crew", "crew", picks=picks(inside), start=start, check=check),
        Field("by", "relieved by", needed=False, picks=picks(crews(picture)), most=20),
        Field("minutes", "in minutes", most=4, check=minutes,
              hint=f"{NOT_PLANNED}: no longer planned"),
    )  # fmt: skip
    return Form("relief", "RELIEF", fields, make, context.chosen)


def other_door(context: Context) -> Sheet:
    """They came out, but not here."""

    def make(answers: Answers) -> WriteAct | Refused:
        wearers, door = whom(context, answers), answers["door"]
        at_ns = when_ns(answers["when"], context)
        if isinstance(at_ns, Refused):
            return at_ns
        words = f"out at {door}: {labels(context, wearers)}"
        return act("come_out", words, wearers=wearers, door=door, at_ns=at_ns)

    fields = (*who_field(context), Field("door", "door", most=60), when_field())
    return Form("door", f"OUT AT ANOTHER DOOR{of_whom(context)}", fields, make, context.chosen)


def other_board(context: Context) -> Sheet:
    """Another board watches them from now on, or this one again."""

    def make(answers: Answers) -> WriteAct:
        wearers, board = whom(context, answers), answers["board"]
        board = "" if board == THIS_BOARD else board
        words = f"{labels(context, wearers)}: {f'moved to {board}' if board else 'on this board'}"
        return act("move_board", words, wearers=wearers, board=board)

    hint = f"which board watches them now; 1: {THIS_BOARD} again"
    fields = (
        *who_field(context),
        Field("board", "board", most=60, picks=(THIS_BOARD,), hint=hint),
    )
    return Form("move", f"MOVED TO ANOTHER BOARD{of_whom(context)}", fields, make, context.chosen)


def emergency(context: Context) -> Sheet | Say:
    """The emergency message, a line a field, filled in from the last data; and to whom it went."""
    if not context.chosen:
        return Say("emergency message: first the number of a wearer")
    wearer = context.chosen[-1]
    told = [(f"field {n}", *one) for n, one in enumerate(context.emergency_form(wearer))]

    def make(answers: Answers) -> WriteAct | Refused:
        said = "; ".join(f"{heading}: {answers[name] or '?'}" for name, heading, _ in told)
        if len(said) > TEXT_MAX:
            longest = max((name for name, *_ in told), key=lambda name: len(answers[name]))
            return Refused(f"{len(said) - TEXT_MAX} characters too many in all", longest)
        words = f"emergency message to {answers['to']}: {labels(context, (wearer,))}"
        return act("tell_emergency", words, wearers=(wearer,), to=answers["to"], text=said)

    one = replace(context, chosen=(wearer,))
    fields = (
        *(Field(name, heading, start=value, needed=False, hint="not known yet; empty: said as ?")
          for name, heading, value in told),
        Field("to", "told to", most=60, picks=("command", "control", "emergency crew"),
              hint="a number, or own words; Up: what was said"),
    )  # fmt: skip
    title = f"EMERGENCY MESSAGE{of_whom(one)}"
    return Form("emergency", title, fields, make, (wearer,), gaps=True)


def real_emergency(context: Context) -> Sheet | Say:
    """What began as an exercise is none any more, for everybody, from now on."""
    if context.picture.use == "real":
        return Say("this incident is real already")

    def make(answers: Answers) -> WriteAct:
        return act("real_emergency", "REAL EMERGENCY", reason=answers["reason"])

    fields = (
        Field("sure", "it is", picks=(IT_IS_REAL,), free=False, hint="1, then Enter; Esc: nothing"),
        Field("reason", "what happened", needed=False),
    )
    notes = ("Ends the exercise for everybody from this moment. It cannot be taken back.",)
    return Form("real", "REAL EMERGENCY", fields, make, notes=notes)
