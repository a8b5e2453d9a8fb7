import tracemalloc
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.orders.events import AnswerByVoice, EmergencyCrew, GiveOrder
from monitor.incident.rows import Row, RowKind
from monitor.report.gathering import SAMPLES_MAX, gather
from monitor.report.reading import Told

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw, Tale

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S


def test_nothing_is_gathered_of_nothing() -> None:
    found = gather([], 0)
    assert (found.opened, found.last, found.rows, found.lives.in_order()) == (None, None, 0, [])


def test_what_is_counted(tale: "Tale") -> None:
    tale.hear(1)
    tale.rows.append(Row(2 * S, RowKind.ANNOUNCED, b"{}"))
    tale.fact(3, events.Stall(from_ns=1 * S, to_ns=3 * S))
    tale.fact(4, events.Resumed(down_ns=7 * S, known_by="unknown", wall_ns=WALL_NS + 11 * S))
    found = tale.gathered(20)
    assert (found.rows, found.frames, found.announced) == (5, 1, 1)
    assert (found.stalled_ns, found.down_ns, found.unknown_breaks) == (2 * S, 7 * S, 1)
    assert not found.closed


def test_who_held_the_board_from_when(tale: "Tale") -> None:
    tale.fact(1, events.Holder(board="a", by="R. Harrow"))
    tale.fact(60, events.Holder(board="", by=""))
    tale.fact(61, events.Holder(board="b", by="M. Slip"))
    assert tale.gathered(62).officers == [(0, "R. Harrow"), (61 * S, "M. Slip")]


def test_orders_and_emergency_crews(tale: "Tale") -> None:
    tale.person(1)
    tale.person(2, crew="Beta")
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.act(3, EmergencyCrew, crew="Beta", state="ready")
    tale.act(10, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    tale.act(25, AnswerByVoice, order=1, wearers=(1,))
    tale.act(40, events.ComeOut, wearers=(1,))
    found = tale.gathered(2_000)
    (order,) = found.orders
    (line,) = order.lines
    assert (order.given_at_ns, order.for_ns, order.state) == (10 * S, 30 * S, "all out")
    assert (line.voice_ns, line.out_ns) == (15 * S, 30 * S)
    assert [(t, act.state) for t, act in found.emergency] == [(3 * S, "ready")]


def test_the_wall_clock_as_it_was_set_then(tale: "Tale") -> None:
    tale.fact(10, events.ClockStep(by_ns=100 * S, wall_ns=WALL_NS + 110 * S))
    wall = tale.gathered(20).wall
    assert wall.at(9 * S) == WALL_NS + 9 * S
    assert wall.at(10 * S) == WALL_NS + 110 * S
    assert wall.at(15 * S) == WALL_NS + 115 * S


def test_pauses_and_settings_of_the_clock_are_kept(tale: "Tale") -> None:
    tale.fact(10, events.ClockStep(by_ns=100 * S, wall_ns=WALL_NS + 110 * S))
    tale.fact(20, events.WentOn(stood_ns=30 * S, wall_ns=WALL_NS + 150 * S))
    found = tale.gathered(40)
    assert (found.clock_set, found.paused) == ([(10 * S, 100 * S)], [30 * S])


def test_samples_are_as_many_however_long_it_is(tale: "Tale") -> None:
    """A day of 86,400 s: 5, 10, 20 ... 160 s apart, since 86,400 / 80 are more than 1,000."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(86_399, events.Note, text="late")
    (wear,) = tale.gathered(86_400).wears.all
    assert [sample.t for sample in wear.samples] == [t * S for t in range(160, 86_399, 160)]
    assert SAMPLES_MAX // 2 <= len(wear.samples) <= SAMPLES_MAX


def test_a_short_incident_is_looked_at_every_five_seconds(tale: "Tale") -> None:
    """1,000 looks are 5,000 s; the look at 5,000 s is the one with which it is too many."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(4_999, events.Note, text="late")
    (wear,) = tale.gathered(4_999).wears.all
    assert [sample.t for sample in wear.samples] == [t * S for t in range(5, 4_999, 5)]
    tale.act(5_001, events.Note, text="later")
    (wear,) = tale.gathered(5_001).wears.all
    assert [sample.t for sample in wear.samples] == [t * S for t in range(10, 5_001, 10)]


def test_nothing_is_sampled_after_the_close(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(50, events.Close, override="trial")
    tale.act(90, events.Note, text="too late")
    found = tale.gathered(100)
    assert found.closed
    assert found.wears.all[0].samples[-1].t <= 50 * S


def test_memory_does_not_grow_with_frames(new_tale: "type[Tale]") -> None:
    """Four times the frames of packs that nobody wears, made as they are asked for."""

    def peak(frames: int) -> int:
        tale = new_tale()
        opening = tale.rows.copy()

        def steps() -> Iterator[list[Row]]:
            yield opening
            for at in range(0, frames, 500):
                tale.rows.clear()
                for n in range(at, at + 500):
                    tale.hear(n, wearer=n % 5)
                yield tale.rows

        tracemalloc.start()
        try:
            gather(steps(), frames * S)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    assert peak(4_000) < 1.2 * peak(1_000)


def test_a_row_that_is_not_what_its_kind_says_is_an_error(tale: "Tale") -> None:
    tale.rows.append(Row(1, RowKind.ACT, b"{}"))
    with pytest.raises(ValueError, match="what"):
        tale.gathered(5)


def test_looking_at_the_board_changes_nothing(golden: Told, raw: "Raw") -> None:
    """Every alarm of the journal's own announcements, at the same ns; announced while recording."""
    said = [(one["number"], one["t"]) for _, one in raw.said(4) if not one["again"]]
    found = golden.gathered
    began = [
        (life.number, t) for life in found.lives.in_order() for t, priority in life.began
        if priority < 3
    ]  # fmt: skip
    assert began == said
    assert (found.announced, found.announced_now) == (len(raw.said(4)), len(raw.said(4)))
    assert found.frames == sum(kind & 15 == 1 for _, kind, _ in raw.rows)
    assert found.rows == len(raw.rows)
