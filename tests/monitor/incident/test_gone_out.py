"""Somebody noted out, or off air, who breathes from the set all the same."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from protocol.packets import Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000


@pytest.fixture
def out(story: "Story") -> "Story":
    """Wearer 1 noted out at 10 s, with 290 bar."""
    story.enter(1)
    story.act(10 * S, events.ComeOut, wearers=(1,))
    return story


def breathe(story: "Story", until_s: int, bar_a_minute: float) -> None:
    """Reports each 5 s of a gauge that falls from 290 bar at 10 s, in whole bar."""
    begin_s = story.now // S + 5
    for t in range(begin_s, until_s + 1, 5):
        story.hear(t * S, pressure_dbar=int(290 - bar_a_minute * (t - 10) / 60) * 10)


def test_out_it_is_told_at_the_second_look_and_not_before(out: "Story") -> None:
    """A minute to take the mask off, then two: looked at at 70 s and at 190 s."""
    breathe(out, 185, 12)
    assert "out_breathes" not in out.alarms(t=190 * S - 1)
    assert out.alarm("out_breathes", t=190 * S).raised_at_ns == 190 * S


# In two minutes 5 bar count as breathing: 2 bar a minute lose 4, whatever gauges round.
@pytest.mark.parametrize("bar_a_minute", [0, 2, 60])
def test_a_set_that_cools_or_is_bled_at_the_door_breathes_for_nobody(
    out: "Story", bar_a_minute: float
) -> None:
    breathe(out, 250, bar_a_minute)
    assert "out_breathes" not in out.alarms()


def test_it_goes_when_no_more_is_used_when_in_again_and_with_the_pack(out: "Story") -> None:
    breathe(out, 190, 12)
    assert "out_breathes" in out.alarms(t=190 * S)
    for t in range(195, 311, 5):
        out.hear(t * S, pressure_dbar=2540)
    assert "out_breathes" not in out.alarms(t=310 * S)
    out.act(320 * S, events.Enter, wearers=(1,))
    breathe(out, 700, 12)
    assert "out_breathes" not in out.alarms()


def test_out_again_after_going_in_again_has_its_minute_again(out: "Story") -> None:
    breathe(out, 190, 12)
    out.act(191 * S, events.Enter, wearers=(1,))
    breathe(out, 300, 12)
    out.act(301 * S, events.ComeOut, wearers=(1,))
    breathe(out, 480, 12)
    assert "out_breathes" not in out.alarms(t=481 * S - 1)
    assert "out_breathes" in out.alarms(t=481 * S)


def test_off_air_it_goes_with_the_pack_and_with_connecting(out: "Story") -> None:
    out.act(12 * S, events.OffAir, wearers=(1,))
    breathe(out, 60, 12)
    assert out.alarms() == ["out_breathes"]
    out.hear(65 * S, kind=Kind.SIGN_OFF)
    assert "out_breathes" not in out.alarms()
    out.hear(70 * S, kind=Kind.SIGN_ON, boot=2, sequence=1)
    out.sequences.clear()
    assert "out_breathes" not in out.alarms()
