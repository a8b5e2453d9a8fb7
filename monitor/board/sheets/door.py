"""Sheets for what is done at the door: checking in, crews, tasks, steps noted late. Pure."""

from dataclasses import replace

from monitor.board.acts.effects import Say, WriteAct
from monitor.board.sheets.common import (
    NO,
    YES,
    Context,
    Sheet,
    act,
    crews,
    cylinder_from,
    far_under,
    find_wearer,
    find_wearers,
    labels,
    of_whom,
    picks,
    places,
    pressure_field,
    unit_of,
    when_field,
    when_ns,
    who_field,
    whom,
)
from monitor.board.sheets.forms import Answers, Check, Field, Form, Refused
from monitor.board.words.choosing import names, wearer_of
from monitor.board.words.marks import clean
from monitor.incident import units
from monitor.incident.event_parts import IDENTITY_MAX, WEARERS_MAX
from monitor.incident.picture import Phase, Picture, UnjoinedView, WearerView

NO_PACK = "none"
"""In place of a pack's number: no telemetry."""
ROSTER = "roster"
"""In place of a pack's number: the set that the roster gives them."""
PACKS_SHOWN_MAX = 6
"""Beside their own, ``NO_PACK`` and ``ROSTER`` there is a digit for so many."""
WAITING_SHOWN_MAX = 12
"""Named as not here yet."""
TASKS = ("search", "rescue", "firefighting", "guideline", "reconnaissance", "emergency crew")
"""Trade words for common tasks; UK national guidance lists such terms for entry control records."""
COMMUNICATIONS = ("radio", "radio and guideline", "line", "within call")
CHECKS = ("self-test", "warnings", "gauge agrees", "full", "battery", "link", "low-air value")
STEPS = {
    "connected to air": "connect",
    "gone in": "enter",
    "objective reached": "reach_objective",
    "started back": "start_back",
    "come out": "come_out",
    "off air": "off_air",
}
"""Steps of a wear as a person says them, and the acts that they are."""
AT_CONNECTING = "gauge at connecting"
FAR_UNDER = "yes, far under what is believed"
COUNTS = {"pack counts": "pack", "voice counts": "voice"}
"""Of pack and voice that contradict each other, the one that counts."""
PUT_RIGHT = (AT_CONNECTING, *COUNTS)
"""What puts right the figures that steps are reckoned from."""
WITH_GAUGE = frozenset({"connected to air", "objective reached", AT_CONNECTING})
"""Those that a gauge reading belongs to."""


def check_in(context: Context) -> Sheet | Say:
    """Join a pack that is heard, or none, to a wearer, or the set of the roster; then the next.

    Several who were chosen are checked in at once, each with the set of the roster.
    """
    picture = context.picture
    waits = {w.wearer: w for w in picture.wearers if w.phase is Phase.LISTED}
    if len(context.chosen) > 1:
        return _arrived(context, waits)
    packs = [str(unjoined.pack) for unjoined in lit_first(picture)][:PACKS_SHOWN_MAX]
    one = wearer_of(picture, context.chosen[0]) if context.chosen else None
    waiting = _waiting(waits)
    theirs = _doubted_pack(one)
    roster = (ROSTER,) if waits and (one is None or one.wearer in waits) else ()

    known = (*filter(None, [theirs]), *packs, NO_PACK, *roster)

    def tally(said: str, _answers: Answers) -> str:
        found = find_wearer(picture, said)
        if found is not None and found.under_air:
            # One wrong digit would take the telemetry from somebody who is in.
            return f"{found.wearer} is under air: to swap sets choose {found.wearer} on the board"
        return "" if found else "unknown tally: a number, call sign or name on the board"

    def pack(said: str, _answers: Answers) -> str:
        known = said in {NO_PACK, *roster} or (said.isascii() and said.isdigit())
        fits = known and (not said.isdigit() or 1 <= int(said) <= IDENTITY_MAX)
        return "" if fits else ", or ".join(("the number of a pack", *roster, NO_PACK))

    def make(answers: Answers) -> WriteAct | Refused:
        wearer = one or find_wearer(picture, answers["wearer"])
        assert wearer is not None, "checked when it was typed"
        if answers["pack"] == ROSTER:
            return _here((wearer.wearer,), context)
        if answers["pack"] == _doubted_pack(wearer):
            return _again(wearer)
        return _joined(answers, wearer.wearer, context)

    fields = (
        Field(
            "pack",
            "pack",
            picks=known,
            check=pack,
            hint="number, or none",
        ),
        *(() if one else (Field("wearer", "tally", check=tally, hint="number, sign or name"),)),
        Field(
            "cylinder",
            "cylinder",
            picks=picks(tuple(context.cylinders)),
            check=cylinder_check(context),
            hint="litres and rated bar, as 6.8/300",
            when=lambda answers: answers["pack"] == NO_PACK,
        ),
    )
    notes = (
        *_heard(picture),
        *([f"{theirs} is theirs: again, and all that it sends from now on counts"] * bool(theirs)),
        f"not here yet: {waiting}" if waiting else "everybody on the board is checked in",
    )
    return Form(
        "check-in",
        f"CHECK-IN{of_whom(context)}",
        fields,
        make,
        context.chosen,
        notes,
        again=one is None,
    )


def _waiting(waits: dict[int, WearerView]) -> str:
    named = list(waits.values())[:WAITING_SHOWN_MAX]
    return ", ".join(f"{w.wearer} {w.call_sign or w.name}" for w in named)


def _doubted_pack(wearer: WearerView | None) -> str:
    """Give the pack that is no longer believed to be theirs; empty: nothing speaks against it."""
    if wearer is None or not wearer.pack_doubted:
        return ""
    return str(wearer.pack)


def _again(wearer: WearerView) -> WriteAct:
    """Have the base forget what it held against this pack: it lost its counter, or was copied."""
    name = clean(wearer.call_sign or wearer.name)
    return act("enrol_again", f"enrolled again: pack {wearer.pack}, {name}", pack=wearer.pack)


def _arrived(context: Context, waits: dict[int, WearerView]) -> Sheet | Say:
    """Check in several of a roster who are here, with the sets that it gives them: one act."""
    meant = [number for number in context.chosen if number in waits]
    if not meant:
        return Say("these are here already: check-in is for one at a time")

    def check(said: str, _answers: Answers) -> str:
        found = find_wearers(context.picture, said)
        if isinstance(found, str):
            return found
        here = [number for number in found if number not in waits]
        return f"{here[0]} is here already" if here else ""

    def make(answers: Answers) -> WriteAct:
        found = find_wearers(context.picture, answers["who"])
        assert not isinstance(found, str), "checked when it was typed"
        return _here(found, context)

    stands = " ".join(str(number) for number in sorted(meant))
    hint = "numbers, signs or names; crew 3: all of it"
    field = Field("who", "here", start=stands, check=check, hint=hint)
    title = "CHECK-IN, with the sets that the roster gives them"
    return Form("check-in of several", title, (field,), make, context.chosen)


def _here(wearers: tuple[int, ...], context: Context) -> WriteAct:
    return act("arrive", f"here: {names(context.picture, wearers)}", wearers=wearers)


def lit_first(picture: Picture) -> list[UnjoinedView]:
    """Packs of nobody: those that have just shown themselves first, then by number."""
    return sorted(picture.unjoined, key=lambda u: (not u.lit, u.pack))


def _heard(picture: Picture) -> list[str]:
    """Packs that are heard and nobody's: number, pressure as told."""
    if not picture.unjoined:
        return ["no pack is heard that belongs to nobody"]
    unit = picture.pressure_unit
    told = [
        f"{u.pack}" + ("" if u.pressure_bar is None else f" {units.left(u.pressure_bar, unit)}")
        for u in lit_first(picture)[:PACKS_SHOWN_MAX]
    ]
    more = len(picture.unjoined) - len(told)
    return [f"heard, nobody's ({unit}): {', '.join(told)}" + (f" and {more} more" * (more > 0))]


def cylinder_check(context: Context) -> Check:
    """Make a check that a cylinder is known, or is said as litres and rated bar."""

    def check(said: str, _answers: Answers) -> str:
        return "" if cylinder_of(said, context) else "a name as 6.8/300: litres and rated bar"

    return check


def cylinder_of(said: str, context: Context) -> tuple[float, float] | None:
    """Litres and rated bar of a cylinder as typed; None: not understood."""
    known = context.cylinders.get("".join(said.casefold().split()))
    if known is not None:
        return known
    litres, _, rated = said.replace(",", ".").partition("/")
    found = cylinder_from(litres, rated)
    return None if isinstance(found, str) else found


def _joined(answers: Answers, wearer: int, context: Context) -> WriteAct | Refused:
    who = labels(context, (wearer,))
    if answers["pack"] != NO_PACK:
        identity = int(answers["pack"])
        other = next((w for w in context.picture.wearers if w.pack == identity), None)
        if other is not None and other.wearer != wearer:
            name = other.call_sign or other.name
            return Refused(f"pack {identity} is joined to {other.wearer} {name}", "pack")
        return act("join_pack", f"{who} has pack {identity}", wearer=wearer, pack=identity)
    litres, rated = cylinder_of(answers["cylinder"], context) or (0.0, 0.0)
    size = {"water_volume_l": litres, "rated_bar": rated}
    return act("join_pack", f"{who} without telemetry", wearer=wearer, pack=None, **size)


def newcomer(context: Context) -> Sheet | Say:
    """Put somebody on the board who is on no roster."""
    picture = context.picture
    place = max((w.wearer for w in picture.wearers), default=0) + 1
    if place > WEARERS_MAX:
        return Say(f"no more than {WEARERS_MAX} fit on a board")
    signs = {w.call_sign for w in picture.wearers if w.call_sign}

    def sign(said: str, _answers: Answers) -> str:
        return "somebody on the board has this call sign" if said in signs else ""

    def make(answers: Answers) -> WriteAct:
        listed = {
            "wearer": place,
            "name": answers["name"],
            "call_sign": answers["sign"],
            "crew": answers["crew"],
            "leader": answers["leader"] == YES,
        }
        return act("list_wearer", f"{place} {answers['sign'] or answers['name']}", **listed)

    fields = (
        Field("name", "name", most=60),
        Field("sign", "call sign", most=20, needed=False, check=sign),
        Field("crew", "crew", most=20, needed=False, picks=picks(crews(picture))),
        Field("leader", "crew leader", picks=(YES, NO), free=False, start=NO),
    )
    return Form("newcomer", f"NEW ON THE BOARD, number {place}", fields, make)


def crew(context: Context) -> Sheet:
    """Another crew, or another leader of it."""
    one = replace(context, chosen=context.chosen[:1])

    def make(answers: Answers) -> WriteAct:
        (wearer,) = whom(one, answers)
        name = "" if answers["crew"] == NO_PACK else answers["crew"]
        leads = answers["leader"] == YES
        words = f"{labels(context, (wearer,))} in {name or 'no crew'}{', leader' * leads}"
        return act("set_crew", words, wearer=wearer, crew=name, leader=leads)

    found = wearer_of(context.picture, context.chosen[0]) if context.chosen else None
    named = picks((*crews(context.picture)[:8], NO_PACK))
    fields = (
        *who_field(one, one=True),
        Field("crew", "crew", most=20, picks=named, start=found.crew if found else ""),
        Field("leader", "crew leader", picks=(YES, NO), free=False, start=NO),
    )
    return Form("crew", f"CREW{of_whom(one)}", fields, make, one.chosen)


def check_by_hand(context: Context) -> Sheet:
    """A start-of-use check that somebody made by hand, or that failed."""
    one = replace(context, chosen=context.chosen[:1])

    def make(answers: Answers) -> WriteAct:
        (wearer,) = whom(one, answers)
        passed = answers["passed"] == "passed"
        words = f"{answers['check']} {answers['passed']}: {labels(context, (wearer,))}"
        fields = {"check": answers["check"], "passed": passed, "remark": answers["remark"]}
        return act("tick_check", words, wearer=wearer, **fields)

    fields = (
        *who_field(one, one=True),
        Field("check", "check", picks=CHECKS, free=False),
        Field("passed", "passed", picks=("passed", "failed"), free=False),
        Field("remark", "remark", needed=False),
    )
    return Form("check", f"CHECK BY HAND{of_whom(one)}", fields, make, one.chosen)


def assign(context: Context) -> Sheet:
    """Task, brief and communications of a crew, told or changed."""

    def make(answers: Answers) -> WriteAct | Refused:
        told = {name: answers[name] for name in ("task", "brief", "communications")}
        if not any(told.values()):
            return Refused("nothing was told", "task")
        wearers = whom(context, answers)
        words = f"{answers['task'] or 'brief'}: {labels(context, wearers)}"
        return act("assign", words, wearers=wearers, **told)

    fields = (*who_field(context), *_brief_fields(context.picture))
    return Form("task", f"TASK AND BRIEF{of_whom(context)}", fields, make, context.chosen)


def _brief_fields(picture: Picture) -> tuple[Field, ...]:
    known = list(dict.fromkeys(w.task for w in picture.wearers if w.task))
    return (
        Field("task", "task", needed=False, picks=picks((*known[:3], *TASKS))),
        Field("brief", "brief", needed=False, hint="way, dangers, what to do; may stay empty"),
        Field("communications", "communications", needed=False, picks=COMMUNICATIONS),
    )


def late_step(context: Context) -> Sheet:
    """A step with all that belongs to it, now or as it was some time ago."""
    picture = context.picture

    def going_in(answers: Answers) -> bool:
        return answers["step"] == "gone in"

    def make(answers: Answers) -> WriteAct | Refused:
        wearers = whom(context, answers)
        if answers["step"] in PUT_RIGHT:
            return _put_right(context, answers, wearers)
        at_ns = when_ns(answers["when"], context)
        if isinstance(at_ns, Refused):
            return at_ns
        told: dict[str, object] = {"wearers": wearers, "at_ns": at_ns}
        if answers["gauge"]:
            unit = unit_of(context, wearers)
            told["pressure_bar"] = units.bar_from(int(answers["gauge"]), unit)
        if going_in(answers):
            told |= {name: answers[name] for name in ("location", "task", "brief")}
            told["communications"] = answers["communications"]
        step = answers["step"]
        return act(STEPS[step], f"{step}: {labels(context, wearers)}", **told)

    def far(answers: Answers) -> bool:
        return answers["step"] == AT_CONNECTING and bool(_far_under(context, answers))

    place = Field("location", "place", needed=False, picks=picks(places(picture)))
    fields = (
        *who_field(context),
        Field("step", "step", picks=(*STEPS, *PUT_RIGHT), free=False),
        replace(when_field(), when=lambda a: a["step"] in STEPS),
        replace(pressure_field(context), when=lambda a: a["step"] in WITH_GAUGE),
        Field("sure", "so far under?", picks=(FAR_UNDER,), free=False, when=far),
        *(replace(one, when=going_in) for one in (place, *_brief_fields(picture))),
    )
    return Form("step", f"A STEP IN FULL{of_whom(context)}", fields, make, context.chosen)


def _far_under(context: Context, answers: Answers) -> str:
    wearers, gauge = whom(context, answers), answers["gauge"]
    if not (gauge.isascii() and gauge.isdigit()):
        return ""
    bar = units.bar_from(int(gauge), unit_of(context, wearers))
    return far_under(context.present, wearers, bar)


def _put_right(context: Context, answers: Answers, wearers: tuple[int, ...]) -> WriteAct | Refused:
    """The gauge at connecting, told later or put right; or which of two gauges counts."""
    step, who = answers["step"], labels(context, wearers)
    if step == AT_CONNECTING:
        if not answers["gauge"]:
            return Refused("what did the gauge show?", "gauge")
        unit = unit_of(context, wearers)
        bar = units.bar_from(int(answers["gauge"]), unit)
        words = f"start {answers['gauge']} {unit}, {who}"
        return act("amend_start", words, wearers=wearers, pressure_bar=bar)
    if len(wearers) != 1:
        return Refused("of one wearer at a time", "step")
    return act("trust_gauge", f"{step}: {who}", wearer=wearers[0], counts=COUNTS[step])
