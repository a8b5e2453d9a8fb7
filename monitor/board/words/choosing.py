"""Who is meant by a choice on the board: one wearer, a crew, several; and what they are called.

Pure.
"""

from monitor.board.words.marks import clean
from monitor.incident.picture import AirFrom, Picture, Signal, WearerView

SCOPE_MAX = 120
"""Characters of the words for whom an order covers: they are spoken, and stand in one line."""
OPEN_CIRCUIT = "open circuit"
CREW_MIN = 2
"""A wearer who is alone is called by their own sign."""


def wearer_of(picture: Picture, number: int) -> WearerView | None:
    """Who has this number; None: nobody."""
    return next((w for w in picture.wearers if w.wearer == number), None)


def may_become(picture: Picture, typed: str) -> bool:
    """Tell whether more digits could make this a wearer's number."""
    if typed.startswith("0"):
        return False
    return any(str(w.wearer).startswith(typed) for w in picture.wearers)


def crew_of(picture: Picture, number: int) -> tuple[int, ...]:
    """Everybody of this wearer's crew, by number; the wearer alone where there is none."""
    one = wearer_of(picture, number)
    if one is None or not one.crew:
        return (number,)
    return tuple(w.wearer for w in picture.wearers if w.crew == one.crew)


def crew_under_air(picture: Picture, one: WearerView) -> tuple[int, ...]:
    """Everybody of this wearer's crew under air; the wearer alone if that is nobody."""
    crew = [w for w in picture.wearers if w.crew == one.crew or w is one]
    mates = tuple(w.wearer for w in crew if w.under_air) if one.crew else ()
    return mates or (one.wearer,)


def crews_of(picture: Picture, numbers: tuple[int, ...]) -> tuple[int, ...]:
    """These wearers and everybody under air in their crews, each once, by number."""
    found = {n for w in picture.wearers if w.wearer in numbers for n in crew_under_air(picture, w)}
    return tuple(sorted(found))


def unread(picture: Picture, wearers: tuple[int, ...]) -> tuple[int, ...]:
    """Those of them whose gauge no live pack tells: what it shows at connecting must be asked."""
    found = [w for w in picture.wearers if w.wearer in wearers and w.apparatus == OPEN_CIRCUIT]
    return tuple(w.wearer for w in found if not _tells(w))


def _tells(wearer: WearerView) -> bool:
    return wearer.signal is Signal.HEARD and wearer.air.source is AirFrom.TELEMETRY


def names(picture: Picture, wearers: tuple[int, ...]) -> str:
    """Who is meant: number and call sign, or the crew with all its numbers."""
    found = [w for w in picture.wearers if w.wearer in wearers]
    if len(found) == 1:
        return f"{found[0].wearer} {clean(found[0].call_sign or found[0].name)}"
    numbers = ", ".join(str(w.wearer) for w in found)
    crews = {w.crew for w in found}
    crew = clean(crews.pop()) if len(crews) == 1 else ""
    return f"{crew} ({numbers})" if crew else numbers


def scope_words(picture: Picture, wearers: tuple[int, ...]) -> str:
    """Whom an order covers, as it is spoken: "crew Alpha 2 and Alpha 3-1".

    A crew is named where everybody of it under air is among them.
    """
    chosen = set(wearers)
    called: list[str] = []
    said: set[int] = set()
    for one in picture.wearers:
        if one.wearer not in chosen or one.wearer in said:
            continue
        crew = crew_under_air(picture, one)
        whole = len(crew) >= CREW_MIN and one.wearer in crew and chosen.issuperset(crew)
        said.update(crew if whole else (one.wearer,))
        called.append(f"crew {clean(one.crew)}" if whole else clean(one.call_sign or one.name))
    words = " and ".join(filter(None, (", ".join(called[:-1]), *called[-1:])))
    return words if len(words) <= SCOPE_MAX else f"{len(chosen)} wearers"
