"""The typed commands of the plain board that only write something down. Pure."""

from monitor.board.acts.effects import WriteAct
from monitor.board.plain.order_commands import wearers_named
from monitor.board.sheets.common import act, cylinder_from
from monitor.board.words.choosing import names, wearer_of
from monitor.board.words.marks import clean
from monitor.incident.event_parts import IDENTITY_MAX, TEXT_MAX
from monitor.incident.picture import Picture

SIZE = ("water_volume_l", "rated_bar")
NOBODY = "none"
"""In place of a pack's number: this wearer has no telemetry any more."""


def record_command(words: list[str], picture: Picture) -> WriteAct | list[str] | None:
    """Read a typed line, split into words; None if it is none of these."""
    match words[0].casefold(), words[1:]:
        case "note", rest:
            return _note(rest, picture)
        case "place", rest:
            return _place(rest, picture)
        case "join", rest:
            return _join(rest, picture)
        case "packs", []:
            return _packs(picture)
    return None


def _number(word: str) -> int | None:
    return int(word) if word.isascii() and word.isdigit() else None


def _note(rest: list[str], picture: Picture) -> WriteAct | list[str]:
    number = _number(rest[0]) if rest else None
    one = None if number is None else wearer_of(picture, number)
    wearers = (one.wearer,) if one is not None else ()
    words = clean(" ".join(rest[len(wearers) :]))
    if not words:
        return ["note: say a remark; first the number of a wearer if it is of one."]
    if len(words) > TEXT_MAX:
        return [f"note: at most {TEXT_MAX} characters; write two."]
    whose = f", {names(picture, wearers)}" if wearers else ""
    wearer = wearers[0] if wearers else None
    return act("note", f"note{whose}: {words}", text=words, wearer=wearer)


def _place(rest: list[str], picture: Picture) -> WriteAct | list[str]:
    wearers, left = wearers_named(rest, picture)
    words = clean(" ".join(left))
    if not wearers or not words:
        return ["place: say the numbers of wearers on the board, then where they are."]
    if len(words) > TEXT_MAX:
        return [f"place: at most {TEXT_MAX} characters."]
    where = f"{names(picture, wearers)} at {words}"
    return act("locate", where, wearers=wearers, location=words)


def _join(rest: list[str], picture: Picture) -> WriteAct | list[str]:
    match rest:
        case [number, pack]:
            cylinder: tuple[float, float] | None = None
        case [number, pack, litres, rated]:
            found = cylinder_from(litres, rated)
            if isinstance(found, str):
                return [f"join: say {found}."]
            cylinder = found
        case _:
            return ["join: say a wearer's number, then the number of the pack, or none."]
    wearer = _number(number)
    if wearer is None or wearer_of(picture, wearer) is None:
        return ["join: no such wearer is on the board."]
    who = names(picture, (wearer,))
    size = {} if cylinder is None else dict(zip(SIZE, cylinder, strict=True))
    if pack.casefold() == NOBODY:
        if cylinder is None:
            return [f"join: no pack tells of the cylinder, so say it: join {wearer} none 6.8 300."]
        return act("join_pack", f"{who} without telemetry", wearer=wearer, pack=None, **size)
    identity = _number(pack)
    if identity is None or not 1 <= identity <= IDENTITY_MAX:
        return [f"join: no pack has such a number; they go from 1 to {IDENTITY_MAX}."]
    return act("join_pack", f"{who} has pack {identity}", wearer=wearer, pack=identity, **size)


def _packs(picture: Picture) -> list[str]:
    return [f"Pack {u.pack}: {u.signal}." for u in picture.unjoined] or ["No pack of nobody."]
