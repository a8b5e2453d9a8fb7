"""Sheets for sets after use, and for the board itself: handing over, correcting, closing. Pure."""

from dataclasses import replace

from monitor.board.acts.effects import Say, WriteAct
from monitor.board.sheets.common import (
    Context,
    LogEntry,
    Sheet,
    act,
    labels,
    of_whom,
    one_of,
    picks,
    who_field,
    whom,
)
from monitor.board.sheets.door import cylinder_check, cylinder_of
from monitor.board.sheets.forms import Answers, Field, Form, Refused
from monitor.board.words import wording
from monitor.board.words.choosing import wearer_of
from monitor.incident.record.sets import set_called

AFTER_STEPS = ("valve closed", "bled", "electronics off", "cylinder off", "made ready")
"""Seeing to a set after use (common practice)."""
DEFECTS = ("leaks", "gauge at fault", "warning at fault", "no radio", "motion sensor at fault")
LOG_SHOWN_MAX = 9
CLOSE_IT = "close it"


def after_use(context: Context) -> Sheet:
    """A step of seeing to a set after use that no packet tells of."""
    one = replace(context, chosen=context.chosen[:1])

    def make(answers: Answers) -> WriteAct:
        (wearer,) = whom(one, answers)
        words = f"{answers['step']}: {labels(context, (wearer,))}"
        return act("tick_after_use", words, wearer=wearer, step=answers["step"])

    fields = (*who_field(one, one=True), Field("step", "step", picks=AFTER_STEPS, free=False))
    return Form("after", f"AFTER USE{of_whom(one)}", fields, make, one.chosen)


def fresh_cylinder(context: Context) -> Sheet:
    """Another cylinder on the same set, for the next wear."""
    one = replace(context, chosen=context.chosen[:1])

    def make(answers: Answers) -> WriteAct:
        (wearer,) = whom(one, answers)
        litres, rated = cylinder_of(answers["size"], context) or (None, None)
        size = {"water_volume_l": litres, "rated_bar": rated}
        words = f"fresh cylinder: {labels(context, (wearer,))}"
        fields = {"wearer": wearer, "cylinder_id": answers["id"], **size}
        return act("change_cylinder", words, **fields)

    sizes = picks(tuple(context.cylinders))
    fields = (
        *who_field(one, one=True),
        Field("id", "cylinder", needed=False, most=20, hint="as printed on it; may stay empty"),
        Field("size", "size", needed=False, picks=sizes, check=cylinder_check(context),
              hint="empty: as before; or litres and rated bar, as 6.8/300"),
    )  # fmt: skip
    return Form("cylinder", f"FRESH CYLINDER{of_whom(one)}", fields, make, one.chosen)


def filled(context: Context) -> Sheet | Say:
    """A cylinder that was to be filled is full again."""
    known = [one.cylinder_id for one in context.picture.to_fill]
    if not known:
        return Say("no cylinder is noted that is to be filled")

    def make(answers: Answers) -> WriteAct:
        name = answers["cylinder"]
        return act("fill_cylinder", f"cylinder {name} filled", cylinder_id=name)

    check = one_of(known, "a cylinder that is to be filled")
    fields = (Field("cylinder", "cylinder", picks=picks(known), check=check),)
    return Form("filled", "CYLINDER FILLED", fields, make)


def defect(context: Context) -> Sheet:
    """A set that is not to be used until somebody has seen to it."""
    one = wearer_of(context.picture, context.chosen[0]) if context.chosen else None

    def make(answers: Answers) -> WriteAct:
        name, text = answers["set"], answers["text"]
        return act("report_defect", f"set {name} at fault: {text}", set_id=name, text=text)

    start = "" if one is None else set_called(one.set_id, one.pack, one.call_sign or one.name)
    fields = (
        Field("set", "set", most=20, start=start, hint="as printed on it"),
        Field("text", "defect", picks=DEFECTS),
    )
    return Form("defect", "DEFECT OF A SET", fields, make, context.chosen)


def defect_cleared(context: Context) -> Sheet | Say:
    """A set that may be used again."""
    known = [one.set_id for one in context.picture.defects]
    if not known:
        return Say("no set is noted as at fault")

    def make(answers: Answers) -> WriteAct:
        name, text = answers["set"], answers["text"]
        return act("clear_defect", f"set {name} well again: {text}", set_id=name, text=text)

    check = one_of(known, "a set that is noted as at fault")
    fields = (
        Field("set", "set", picks=picks(known), check=check),
        Field("text", "what was done"),
    )
    return Form("cleared", "DEFECT CLEARED", fields, make)


# ---------------------------------------------------------------- the board itself


def hand_over(context: Context) -> Sheet:
    """The next officer has the board from now on; both names are in the record."""
    now = context.picture.holder or context.picture.officer

    def name(said: str, _answers: Answers) -> str:
        return "has the board already" if said == now else ""

    def make(answers: Answers) -> WriteAct:
        words = f"board from {now} to {answers['to']}"
        return act("hand_over", words, to=answers["to"], remark=answers["remark"])

    fields = (
        Field("to", "next officer", most=60, check=name),
        Field("remark", "remark", needed=False),
    )
    notes = (f"from {now}", "The page to hand over: outby handover, on any terminal.")
    return Form("handover", "HAND THE BOARD OVER", fields, make, notes=notes)


def stage(context: Context) -> Sheet:
    """Another stage, or control level."""

    def make(answers: Answers) -> WriteAct:
        return act("set_stage", f"stage {answers['stage']}", stage=answers["stage"])

    fields = (Field("stage", "stage", most=60, start=context.picture.stage),)
    return Form("stage", "STAGE OR CONTROL LEVEL", fields, make)


def correct(context: Context) -> Sheet | Say:
    """Say what is right about an earlier act; both stand in the record."""
    shown: list[LogEntry] = list(context.log[:LOG_SHOWN_MAX])
    if not shown:
        return Say("nothing is in the record that could be corrected")
    numbers = [str(n) for n in range(1, len(shown) + 1)]

    def make(answers: Answers) -> WriteAct | Refused:
        entry = shown[int(answers["which"]) - 1]
        return act("correct", f"correction: {answers['text']}", of=entry.id, text=answers["text"])

    notes = tuple(f"{n} {told(entry, context)}" for n, entry in zip(numbers, shown, strict=True))
    fields = (
        Field("which", "which", most=1, check=one_of(numbers, "the number of a line above")),
        Field("text", "what is right"),
    )
    return Form("correct", "CORRECT THE RECORD: both will stand there", fields, make, notes=notes)


def told(entry: LogEntry, context: Context) -> str:
    """One act as a line: time of day, what, by whom."""
    wall_ns = context.picture.wall_ns - context.picture.t + entry.t
    time = wording.day_time(wall_ns, context.zone, seconds=True)
    return f"{time}  {entry.words}  ({entry.by})"


def close(context: Context) -> Sheet:
    """End the incident; with somebody in only for a reason that is written down."""
    picture = context.picture
    inside = [f"{w.wearer} {w.call_sign or w.name}" for w in picture.wearers if w.under_air]
    moved = [
        f"{w.wearer} {w.call_sign or w.name} ({w.moved_to})" for w in picture.wearers if w.moved_to
    ]
    standing = [order.order for order in picture.orders if order.is_open]
    needs = bool(inside or standing)

    def make(answers: Answers) -> WriteAct:
        return act("close", "close the incident", override=answers["why"])

    notes = (
        *((f"STILL UNDER AIR: {', '.join(inside)}",) if inside else ("nobody is under air",)),
        *((f"WATCHED BY ANOTHER BOARD: {', '.join(moved)}",) if moved else ()),
        *((f"ORDERS THAT STAND: {', '.join(standing)}",) if standing else ()),
        "Nothing is recorded after it, and no alarm comes any more.",
    )
    fields = (
        Field("sure", "close", picks=(CLOSE_IT,), free=False, hint="1, then Enter; Esc: nothing"),
        Field("why", "why all the same" if needs else "remark", needed=needs),
    )
    return Form("close", "CLOSE THE INCIDENT", fields, make, notes=notes)
