"""What an alarm says once its cause is over, and it still waits to be taken or reset.

It never reads as one that stands: first that it is over, and how; then what is left to do. For
whoever may still be in trouble that is to call them: a button that was let go is no word from them.
"""

from monitor.incident.alarms.entry import Kind
from monitor.incident.picture import Phase

OF_A_MOMENT = frozenset({Kind.TIME_UNKNOWN, Kind.STILL_THEN_SILENT})
"""What may tell of a moment alone: that it is past ends nothing, and all is still to be done."""
PLAIN = "Over. Nothing is left to do."

_CALL = "Call them all the same."
_WORDS = {
    Kind.DISTRESS: f"Over: the pack tells it no more. {_CALL}",
    Kind.MOTION_ALARM: f"Over: the pack tells it no more. {_CALL}",
    Kind.LOSS_OF_PRESSURE: "Over: air does not run away now. Ask for the gauge.",
    Kind.LOW_AIR: "Over: a reading is above it. Ask for the gauge.",
    Kind.OVERDUE: "Over: a reading is above it.",
    Kind.TURN_BACK: "Over: started back, out, or a reading is over it.",
    Kind.PACK_OFF: "Over: the pack is heard again.",
    Kind.NO_SIGNAL: "Over: heard again, or by voice.",
    Kind.SEVERAL_SILENT: "Over: several at once no more.",
    Kind.CREW_SILENT: "Over: the whole crew no more.",
    Kind.BASE_POWER: "Over: on mains power.",
    Kind.NO_WORD: "Over: a reading has come.",
    Kind.GAUGE: "Over: nothing speaks against the gauge now.",
    Kind.IN_USE: "Over: joined, or switched off. See who it was.",
    Kind.NOT_ON_AIR: "Over: connected, or switched off. See where they are.",
    Kind.UNPROVEN_DISTRESS: f"Over: it is told no more. {_CALL}",
}
"""By kind, for somebody who breathes from a set; a kind without has nothing left to do."""
_GONE = {Phase.OUT: "Over: noted out.", Phase.OFF_AIR: "Over: off air."}
_WELL = "See that they are well."
_LEFT = {
    Kind.DISTRESS: _WELL,
    Kind.MOTION_ALARM: _WELL,
    Kind.UNPROVEN_DISTRESS: _WELL,
    Kind.LOSS_OF_PRESSURE: "Have the set seen to before it is used.",
}
"""What is left for somebody who is out, or off air."""
_ROW = {
    Kind.DISTRESS: "over DISTRESS",
    Kind.MOTION_ALARM: "over MOTION",
    Kind.UNPROVEN_DISTRESS: "over DISTRESS",
    Kind.LOSS_OF_PRESSURE: "over LOSS",
}
"""Those that stay until they are reset."""
_CRIES = frozenset({Kind.DISTRESS, Kind.MOTION_ALARM, Kind.UNPROVEN_DISTRESS})


def is_over(kind: Kind, *, condition: bool) -> bool:
    """Whether an alarm of this kind is over once its condition has gone."""
    return not condition and kind not in OF_A_MOMENT


def is_past(kind: Kind, phase: Phase | None, *, condition: bool) -> bool:
    """Whether the wearer's own line says so: of whoever is inside a cry stands until it is reset.

    The alarm's line has room to say that the button was let go; one word would read as all well.
    """
    cry = kind in _CRIES and phase not in _GONE
    return is_over(kind, condition=condition) and not cry


def words(kind: Kind, phase: Phase | None) -> str:
    """Say how it is over, and what is left. ``phase``: of whom it is about, None: nobody's."""
    gone = _GONE.get(phase) if phase is not None else None
    if gone is None:
        return _WORDS.get(kind, PLAIN)
    return " ".join(filter(None, (gone, _LEFT.get(kind))))


def row(kind: Kind) -> str:
    """Say it in the one word of the wearer's own line: short, and no cry."""
    return _ROW.get(kind, "over")
