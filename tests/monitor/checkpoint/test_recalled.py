"""A state written down and made again is the same state, and has the same future."""

from collections.abc import Callable
from random import Random
from typing import Any, get_args

import pytest

from monitor.checkpoint import graph
from monitor.checkpoint.classes import CLASSES
from monitor.checkpoint.recalled import ACT_IDS_MAX, PACKS_MAX, Recalled, short
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import announced_row, event_of, row_of
from monitor.incident.events import Act, Done, Fact, Note
from monitor.incident.incident import Incident
from monitor.incident.picture import Priority
from monitor.incident.rows import Row, RowKind
from protocol.codec import decode_trusted, encode
from protocol.packets import Report
from tests.depth import seeds

S = 1_000_000_000
Make = Callable[..., Any]


def again(state: Recalled) -> Recalled:
    made: Recalled = graph.decode(graph.encode(state, CLASSES), CLASSES)
    return made


@pytest.mark.parametrize("seed", seeds(3))
def test_its_future_is_the_same_from_any_commit(seed: int, make_history: Make, fold: Make) -> None:
    """At every later commit the same picture, the same alarms announced, the same to be heard."""
    history = make_history(seed)
    cut = Random(seed).randrange(len(history.batches) - 1)
    batch = history.batches[cut]
    state = fold(history.rows, batch)
    made = again(state)
    whole = Incident()
    for row in history.rows[: batch.last_row]:
        if (event := event_of(row)) is not None:
            whole.apply(event)
    whole.advance(batch.horizon)
    whole.take_announcements()
    assert made.incident.picture() == state.incident.picture() == whole.picture()
    announced = 0
    for later in history.batches[cut + 1 :]:
        for row in history.rows[made.row : later.last_row]:
            if (event := event_of(row)) is not None:
                whole.apply(event)
        made.take(history.rows[made.row : later.last_row])
        state.take(history.rows[state.row : later.last_row])
        for one in (made, state):
            one.advance(later.horizon)
        whole.advance(later.horizon)
        announced += len(whole.take_announcements())
        assert made.incident.picture() == state.incident.picture() == whole.picture()
        assert made.incident.sounding() == whole.sounding()
        assert made.incident.outstanding() == whole.outstanding()
        assert (made.said, made.announced) == (state.said, state.announced)
    assert announced > 0
    for wearer in (1, 2, 3, 4, 9, 17, 33, 65):
        detail = made.incident.air_detail(wearer)
        assert detail == state.incident.air_detail(wearer) == whole.air_detail(wearer)
        assert made.incident.emergency_form(wearer) == whole.emergency_form(wearer)
    assert made.incident.every_order() == whole.every_order()
    assert made.incident.log() == whole.log()
    assert made.incident.check_ins() == whole.check_ins()
    assert made.incident.use == whole.use
    assert graph.encode(made, CLASSES) == graph.encode(state, CLASSES)


@pytest.mark.xdist_group("histories")
def test_the_histories_reach_nearly_everything(rows_of: Make, fold: Make) -> None:
    """So that a class that could not be written down would be met: none may be missing."""
    met: set[str] = set()
    for seed in range(12):
        text = graph.encode(fold(rows_of(seed)), CLASSES).decode()
        met |= {name for name in CLASSES if f'"{name}"' in text}
    incident = "monitor.incident."
    assert len(met) > 50, sorted(met)
    for name in ("orders.order.Order", "wearer.Wear", "alarms.engine.Aside", "air.turn_back.Turn"):
        assert f"{incident}{name}" in met, sorted(met)


def kinds_of(union: Any) -> set[str]:
    """What every model of a union of acts or facts calls itself."""
    if hasattr(union, "model_fields"):
        return {union.model_fields["what"].default}
    return {what for part in get_args(union) for what in kinds_of(part)}


@pytest.mark.xdist_group("histories")
def test_the_histories_have_every_act_and_fact_in_them(rows_of: Make) -> None:
    """So that no new one brings a state that was never written down; all but the close."""
    met: set[str] = set()
    every = kinds_of(Act) | kinds_of(Fact)
    for seed in range(60):
        if every - met == {"close"}:
            break
        rows = rows_of(seed)
        events = (event_of(row) for row in rows if row.kind in {RowKind.ACT, RowKind.FACT})
        met |= {event.what.what for event in events if isinstance(event, Done)}
    assert len(every) > 40
    assert every - met == {"close"}


def test_what_was_announced_is_not_said_again(make_history: Make, fold: Make) -> None:
    """Nine in ten of the announcements are in the journal; those that are not remain."""
    history = make_history(3)
    state = fold(history.rows, history.batches[-1])
    whole = Incident()
    for row in history.rows:
        if (event := event_of(row)) is not None:
            whole.apply(event)
    whole.advance(history.batches[-1].horizon)
    said = list(whole.take_announcements())
    journalled = sum(row.kind is RowKind.ANNOUNCED for row in history.rows)
    assert journalled > 0
    assert len(state.unannounced()) == len(said) - journalled > 0
    assert state.announced == {}


def test_one_alarm_twice_in_an_instant_is_announced_as_often() -> None:
    """Of three with one name two are in the journal: the third is still to be announced."""
    said = Announcement(7, Kind.DISTRESS, "DISTRESS", Priority.DANGER, 5 * S, (2,), again=False)
    state = Recalled()
    state.said[7, 5 * S, False] = [said, said]
    state.take([announced_row(6 * S, said)])
    assert state.unannounced() == [said]
    state.take([announced_row(6 * S, said)] * 2)
    assert state.unannounced() == []
    assert state.announced == {(7, 5 * S, False): 1}


@pytest.mark.parametrize(
    "data",
    [b"[]", b"{}", b"[" * 10_000, b'{"number":1,"t":"x","again":0}'],
    ids=["a list", "nothing in it", "deep", "other types"],
)
def test_an_announcement_that_is_none_is_said(data: bytes) -> None:
    with pytest.raises(ValueError, match="not an announcement"):
        Recalled().take([Row(1, RowKind.ANNOUNCED, data)])


def test_only_a_short_and_exact_break_is_short() -> None:
    assert short(60 * S, "boot clock")
    assert not short(60 * S + 1, "boot clock")
    assert not short(S, "wall clock")


def test_ids_of_acts_are_bounded(make_history: Make, fold: Make) -> None:
    state = fold(make_history(1, 0).rows)
    listed = len(state.act_ids)
    notes = [
        row_of(S, Note(id=f"note-{n:06}", by="R. Harrow", text="x")) for n in range(ACT_IDS_MAX)
    ]
    state.take(notes)
    assert listed == 26  # eight people listed, joined and connected, one listed and expected
    assert len(state.act_ids) == ACT_IDS_MAX
    assert next(iter(state.act_ids)) == "note-000000"


def test_packs_are_bounded(make_history: Make, fold: Make) -> None:
    history = make_history(1, 40)
    state = fold(history.rows)
    row = next(
        row
        for row in history.rows
        if row.kind is RowKind.FRAME and isinstance(decode_trusted(row.data), Report)
    )
    packet = decode_trusted(row.data)
    frames = []
    for identity in range(1_000, 1_000 + PACKS_MAX):
        packet.identity = identity  # type: ignore[union-attr]
        frames.append(Row(history.t, RowKind.FRAME, encode(packet, None), 1))
    state.take(frames)
    assert len(state.fresh) == len(state.gauges) == len(state.proven) == PACKS_MAX
    assert next(iter(state.fresh)) == 1_000
