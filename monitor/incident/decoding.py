"""Rows of the journal to events of the fold, and back."""

import json
from collections.abc import Mapping

from pydantic import ValidationError

from monitor.incident.alarms.engine import Announcement
from monitor.incident.events import Act, Done, Event, Fact, Heard, act_adapter, fact_adapter, is_act
from monitor.incident.rows import Row, RowKind
from protocol.codec import decode_trusted
from protocol.packets import Receipt, Report

_FRAME = RowKind.FRAME
NOT_UNDERSTOOD = (
    ValueError, TypeError, LookupError, ArithmeticError, AttributeError, AssertionError,
    RecursionError,
)  # fmt: skip
"""What decoding and folding a row may raise that no recorder has written, where each of its values
is as it should be and what it says cannot be. Whoever reads a journal of others tells it as damage;
of a row that a recorder has written none of these comes."""
WHY_MAX = 200
"""Characters of why a row is not understood: the rest of a line says which row of which file."""
ANNOUNCED_FIELDS = ("number", "kind", "word", "priority", "t", "wearers", "again")
AnnouncedAs = tuple[int, int, bool]
"""What an announcement is told by: number of its alarm, time, whether it was said before. Several
may be alike: one alarm can begin more than once in an instant. Then their order tells them."""


def event_of(row: Row) -> Event | None:
    """What a row means to the fold; None for a row that is evidence only.

    ValueError (pydantic's is one), or another of NOT_UNDERSTOOD, if the data is not what the kind
    says: only a damaged journal.
    """
    kind = row.kind
    if kind == _FRAME:
        packet = decode_trusted(row.data)
        if packet.__class__ is not Report and packet.__class__ is not Receipt:
            raise ValueError("a frame that no pack sends")
        return Heard(row.t, packet, row.standing, row.link, row.late_ns, row.signal_dbm)
    if kind == RowKind.ACT:
        return Done(row.t, act_adapter.validate_json(row.data))
    if kind == RowKind.FACT:
        return Done(row.t, fact_adapter.validate_json(row.data))
    return None


def row_of(t: int, what: Act | Fact) -> Row:
    """The row of an act or a fact at incident time ``t``."""
    kind = RowKind.ACT if is_act(what) else RowKind.FACT
    return Row(t, kind, what.model_dump_json().encode())


def announced_row(t: int, said: Announcement) -> Row:
    """The row that keeps what was announced, as evidence."""
    fields = {name: getattr(said, name) for name in ANNOUNCED_FIELDS}
    return Row(t, RowKind.ANNOUNCED, json.dumps(fields, separators=(",", ":")).encode())


def announced_of(data: bytes) -> dict[str, object]:
    """The fields of a row that keeps an announcement. ValueError where it is none."""
    try:
        said = json.loads(data)
    except (RecursionError, TypeError):
        raise ValueError("not an announcement") from None
    if not isinstance(said, dict) or not set(ANNOUNCED_FIELDS) <= set(said):
        raise ValueError("not an announcement")
    announced_as(said)
    return said


def announced_as(said: Mapping[str, object]) -> AnnouncedAs:
    """What one is told by. ValueError where it is not what a recorder writes."""
    number, t, again = said["number"], said["t"], said["again"]
    if type(number) is not int or type(t) is not int or type(again) is not bool:
        raise ValueError("not an announcement")
    return number, t, again


def why(error: Exception) -> str:
    """What one of NOT_UNDERSTOOD says, in a few words; the kind of fault where it says nothing."""
    if isinstance(error, ValidationError):
        fault = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in fault["loc"])
        return f"{place}: {fault['msg']}" if place else fault["msg"]
    said = " ".join(str(error).split())[:WHY_MAX]
    return said or f"it cannot be, {type(error).__name__}"
