"""Acts, facts, announcements, minutes of a link and the incident itself as rows. Pure."""

import json
from collections.abc import Iterator
from typing import Any

from monitor.export.alarms import PRIORITIES
from monitor.incident.decoding import announced_of
from monitor.incident.events import Act, Fact, Opened
from monitor.incident.picture import OrderView, Picture, Priority
from monitor.incident.record.events import SearchArea
from monitor.incident.rows import Row as JournalRow

Row = tuple[object, ...]

_SAID = ("task", "text", "reason", "override", "name", "crew")
"""Fields of acts that hold an officer's words, the first that there is."""


def in_words(what: str) -> str:
    """``list_wearer`` as a person says it."""
    return what.replace("_", " ")


def act_row(use: str, number: int, t: int, clock: int, act: Act) -> Row:
    """One act."""
    fields: dict[str, Any] = act.model_dump(mode="json")
    wearers = fields.get("wearers") or _alone(fields.get("wearer"))
    alarms = fields.get("alarms") or _alone(fields.get("alarm"))
    said = next((fields[name] for name in _SAID if fields.get(name)), None)
    return (
        use, number, t, clock, in_words(act.what), act.by, _numbers(wearers), _numbers(alarms),
        fields.get("at_ns"), act.seen_ns, fields.get("pressure_bar"),
        fields.get("location") or None, said, _compact(fields),
    )  # fmt: skip


def area_row(use: str, number: int, t: int, clock: int, act: SearchArea) -> Row:
    """How far an area was searched, as noted."""
    wearers = _numbers(list(act.wearers))
    return use, number, t, clock, act.area, act.state, wearers, act.by


def order_rows(use: str, offset_ns: int, order: OrderView) -> Iterator[Row]:
    """One order, a row a wearer; ``offset_ns``: the wall clock then, less incident time."""
    given = order.given_at_ns
    for line in sorted(order.lines, key=lambda line: line.wearer):
        yield (
            use, order.number, given, given + offset_ns, order.order, order.scope, order.by,
            order.on_order_of or None, order.reason or None, order.state, order.override or None,
            order.for_ns, line.wearer, line.crew or None, line.telemetry, line.committed,
            line.sent_ns, line.copies, line.received_ns, line.acknowledged_ns, line.voice_ns,
            line.back_ns, line.out_ns,
        )  # fmt: skip


def _alone(number: int | None) -> list[int]:
    return [] if number is None else [number]


def _numbers(numbers: list[int]) -> str | None:
    return " ".join(str(number) for number in numbers) or None


def _compact(fields: dict[str, Any]) -> str:
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":"))


def fact_row(use: str, number: int, t: int, clock: int, fact: Act | Fact) -> Row:
    """One fact."""
    left_out = {"procedure"} if isinstance(fact, Opened) else set()
    fields: dict[str, Any] = fact.model_dump(mode="json", exclude=left_out)
    state = fields.get("state")
    if state is None and "up" in fields:
        state = "up" if fields["up"] else "down"
    said = ", ".join(
        str(part) for part in (fields.get("name"), state, fields.get("detail")) if part
    )
    return (
        use, number, t, clock, in_words(fact.what), fields.get("link"), said or None,
        _compact(fields),
    )  # fmt: skip


def announced_row(use: str, number: int, clock: int, row: JournalRow) -> Row:
    """One announcement. ValueError where the row is none."""
    fields: dict[str, Any] = announced_of(row.data)
    try:
        priority = PRIORITIES[Priority(fields["priority"])]
        again = " again" if fields["again"] else ""
        said = f"alarm {fields['number']}{again}: {str(fields['word']).lower()}, {priority}"
    except (TypeError, LookupError) as wrong:
        raise ValueError("not an announcement") from wrong
    return use, number, row.t, clock, "announced", None, said, _compact(fields)


def link_rows(use: str, picture: Picture) -> list[Row]:
    """How each pack of somebody on the board is heard, at the instant of the picture."""
    return [
        (
            use, picture.t, picture.wall_ns, w.wearer, w.pack, w.signal.value, w.silence_ns,
            w.silence_limit_ns, w.signal_dbm, w.frames_taken, w.frames_lost, w.frames_late,
            w.air.source.value, w.air.pressure_bar,
        )
        for w in picture.wearers
        if w.pack is not None
    ]  # fmt: skip
