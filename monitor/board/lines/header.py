"""The two lines at the top: where, exercise or real, when, who is in. Pure."""

from dataclasses import dataclass, replace
from datetime import tzinfo

from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, Segment, clean, fit, width_of
from monitor.board.words.order_words import emergency_words
from monitor.incident.picture import Picture, UnjoinedView

NAME_MAX = 20
"""Cells for the incident's name where all of it does not fit."""
DISK_WORDS = {
    "behind": "DISK BEHIND",
    "low": "DISK NEARLY FULL",
    "full": "DISK FULL",
    "waiting": "NOT ON DISK",
    "failing": "DISK FAILING",
    "gone": "JOURNAL GONE",
}
"""States of the disk that are not well."""
NO_SOUND = frozenset({"missing", "failing"})
"""States of sound that were not asked for."""
EXERCISE_PAUSED = " EXERCISE PAUSED "
SOUND_WORDS = {"bell": "sound: bell", "off": "sound: none here"}


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a header line; the highest ``rank`` is the first to be left out. 0 stays."""

    text: str
    role: Role = Role.QUIET
    rank: int = 0
    short: str = ""
    """Said instead once nothing more can be left out."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What this board is at the desk."""

    connected: bool = True
    holds: bool = True
    """False: view only."""
    by: str = ""
    """Who holds the board."""
    away: bool = False
    """On another machine than the recorder and its player."""
    full: int = 0
    """So many boards are at the desk that this one has no seat."""


def header_lines(picture: Picture, look: Look, desk: Desk) -> tuple[Line, Line]:
    """Give both lines; EXERCISE, OPEN and VIEW ONLY are never left out."""
    return fitted(_first(picture, look), look), fitted(_second(picture, desk, look.zone), look)


def _first(picture: Picture, look: Look) -> list[Piece]:
    use = " EXERCISE " if picture.use == "exercise" else " REAL "
    entry = f"entry {clean(picture.entry_point)}" if picture.entry_point else ""
    stage = clean(picture.stage)
    if stage and not stage.casefold().startswith("stage"):
        stage = f"stage {stage}"
    name = clean(picture.name).upper()
    heard = f"signals {picture.signals_heard}/{picture.signals_expected}"
    by_voice = sum(w.under_air and w.pack is None for w in picture.wearers)
    short_of = picture.signals_heard < picture.signals_expected
    return [
        Piece(f"{name} ", Role.STRONG, short=f"{fit(name, NAME_MAX, look.glyphs).rstrip()} "),
        Piece(clean(picture.place), rank=6),
        Piece(entry, rank=3),
        Piece(EXERCISE_PAUSED if picture.paused else use, Role.BLOCK),
        Piece(" CLOSED " if picture.closed else "", Role.BLOCK),
        Piece(stage, rank=4),
        Piece(wording.day_time(picture.wall_ns, look.zone, seconds=True), Role.STRONG, 1),
        Piece(f"under air {picture.under_air}", Role.STRONG),
        Piece(f"out {picture.came_out}", rank=5),
        Piece(heard, Role.STRONG if short_of else Role.QUIET, 0 if short_of else 2),
        Piece(f"voice {by_voice}" if by_voice else "", rank=2),
    ]


def _second(picture: Picture, desk: Desk, zone: tzinfo | None) -> list[Piece]:
    down = [link for link in picture.links if not link.up]
    links = f"links {len(picture.links) - len(down)}/{len(picture.links)}"
    refused = sum(number for _, number in picture.refused)
    return [
        *_who(picture, desk),
        Piece("" if picture.keyed else " OPEN: NOT AUTHENTICATED ", Role.BLOCK, short=" OPEN "),
        Piece(
            f" LINK DOWN: {clean(down[0].name)} " if down else "",
            Role.CAUTION,
            short=" LINK DOWN ",
        ),
        Piece("" if down else links, rank=1),
        Piece("disk ok" if picture.disk == "ok" else "", rank=3),
        *_disk(picture, zone),
        *_sound(picture, desk),
        *_people(picture, zone),
        Piece(f"procedure {clean(picture.procedure)}", rank=4),
        Piece(f"refused {refused}" if refused else "", rank=5),
    ]


def _disk(picture: Picture, zone: tzinfo | None) -> list[Piece]:
    """How the journal's disk is, and since when it holds nothing new; never left out."""
    if picture.disk == "ok":
        return []
    words = DISK_WORDS[picture.disk]
    if picture.not_on_disk_ns is None:
        return [Piece(f" {words} ", Role.CAUTION)]
    at = wording.day_time(picture.wall_ns - picture.not_on_disk_ns, zone, seconds=True)
    return [Piece(f" NOT ON DISK SINCE {at} ", Role.DANGER, short=f" NOT ON DISK {at} ")]


def _who(picture: Picture, desk: Desk) -> list[Piece]:
    if desk.full:
        words = f" VIEW ONLY: NO SEAT, {desk.full} BOARDS ARE OPEN "
        return [Piece(words, Role.BLOCK, short=" VIEW ONLY: NO SEAT ")]
    if not desk.connected:
        words = " NO DESK: ACTS WAIT, USE VOICE "
        return [Piece(words, Role.CAUTION, short=" NO DESK: USE VOICE ")]
    if desk.holds:
        return [Piece(f"board {clean(desk.by or picture.officer)}", rank=2)]
    by = clean(desk.by)
    return [
        Piece(" VIEW ONLY ", Role.BLOCK),
        Piece(f"{by} has the board" if by else "nobody has the board", rank=1),
    ]


def _sound(picture: Picture, desk: Desk) -> list[Piece]:
    """How alarms are heard; a silence and a player that fails are never left out."""
    if picture.closed:
        return []
    silenced_ns = picture.sounding.silenced_ns
    said = []
    if silenced_ns:
        said.append(Piece(f" silenced {silenced_ns // wording.SECOND_NS} s ", Role.CAUTION))
    if picture.sound in NO_SOUND:
        said.append(Piece(" NO SOUND ", Role.CAUTION))
    elif not silenced_ns:
        words = "sound on there" if desk.away else "sound on"
        said.append(Piece(SOUND_WORDS.get(picture.sound, words if picture.sound else ""), rank=3))
    return said


def _people(picture: Picture, zone: tzinfo | None) -> list[Piece]:
    """Who stands by to help, left out last while anybody is in; and the next roll call.

    Its time of day is rounded down; one that is due says so.
    """
    if picture.closed:
        return []
    inside = picture.under_air > 0
    role = Role.STRONG if inside or picture.emergency else Role.QUIET
    said = [Piece(emergency_words(picture), role, 2 if inside else 4)]
    due_ns = picture.roll_call_in_ns
    if due_ns is not None and due_ns <= 0:
        said.append(Piece("ROLL CALL DUE", Role.STRONG, 2))
    elif due_ns is not None:
        at = wording.day_time(picture.wall_ns + due_ns, zone)
        said.append(Piece(f"roll call {at}", rank=3))
    return said


def fitted(pieces: list[Piece], look: Look) -> Line:
    """Leave out the most dispensable piece until the line fits, then say the longest shortly."""
    kept = [piece for piece in pieces if piece.text]
    while width_of(_joined(kept)) > look.width:
        last = max(kept, key=lambda piece: piece.rank)
        long = max(kept, key=lambda piece: len(piece.text) - len(piece.short or piece.text))
        if last.rank > 0:
            kept.remove(last)
        elif len(long.short or long.text) < len(long.text):
            kept[kept.index(long)] = replace(long, text=long.short, short="")
        else:
            break
    return _joined(kept)


def _joined(pieces: list[Piece]) -> Line:
    """Two blanks between pieces; a block has one of its own on either side."""
    line: list[Segment] = []
    for piece in pieces:
        if line:
            in_block = piece.text.startswith(" ") or line[-1][0].endswith(" ")
            line.append((" " if in_block else "  ", Role.QUIET))
        line.append((piece.text, piece.role))
    return tuple(line)


def unjoined_line(picture: Picture, look: Look) -> Line | None:
    """Packs heard that belong to nobody on the board; None if there are none."""
    packs = picture.unjoined
    if not packs:
        return None
    text = "packs heard, nobody joined:"
    for shown, pack in enumerate(packs):
        word = _pack_words(pack, picture.pressure_unit)
        more = f", + {len(packs) - shown} more"
        room = look.width - (len(more) if shown + 1 < len(packs) else 0)
        if len(text) + 2 + len(word) > room:
            text += more
            break
        text += f"{',' if shown else ''} {word}"
    return ((text, Role.STRONG),)


def _pack_words(pack: UnjoinedView, unit: str) -> str:
    air = (
        "air ?"
        if pack.pressure_bar is None
        else f"{wording.pressure(pack.pressure_bar, unit)} {unit}"
    )
    return f"{pack.pack} ({air}, {wording.short_age(pack.silence_ns)})"
