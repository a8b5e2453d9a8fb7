"""Many packs, and whole crews, that fall silent: how soon it is a danger, and that chance is none.

Each pack reports every 5 s and has done so without a loss for twenty minutes, so the bars of mass
silence on clean links hold; times are from the moment at which the packs fall silent.
"""

from random import Random
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
GONE = 1_200 * S


def told(
    story: "Story", wearers: int, gone_ns: dict[int, int], loss: float = 0.0, of_crew: int = 2
) -> None:
    """Crews of two, each pack at its own moment of the 5 s; from ``gone_ns`` on no more of it."""
    random = Random(1)
    for n in range(1, wearers + 1):
        story.list_and_join(n, 100 + n, crew=f"Crew {(n - 1) // of_crew + 1}")
    story.act(0, events.Connect, wearers=tuple(range(1, wearers + 1)))
    story.act(0, events.Enter, wearers=tuple(range(1, wearers + 1)))
    due = sorted(
        (number * 5 * S + n * 5 * S // wearers, n, number)
        for number in range(1, (GONE // S + 120) // 5)
        for n in range(1, wearers + 1)
    )
    for t, n, number in due:
        if t < gone_ns.get(n, 1 << 62) and random.random() >= loss:
            story.hear(t, 100 + n, sequence=number, pressure_dbar=3000 - number)
    story.incident.advance(GONE + 120 * S)


def first_danger(story: "Story") -> tuple[str, float, int]:
    said = [a for a in story.incident.take_announcements() if a.priority is Priority.DANGER]
    return said[0].kind, (said[0].t - GONE) / S, len(said[0].wearers)


@pytest.mark.parametrize(("wearers", "within_s"), [(12, 20), (60, 15)])
@pytest.mark.parametrize("loss", [0.0, 0.1])
def test_all_at_once(story: "Story", wearers: int, within_s: int, loss: float) -> None:
    told(story, wearers, dict.fromkeys(range(1, wearers + 1), GONE), loss)
    kind, after_s, of = first_danger(story)
    assert kind == "several_silent"
    assert 0 < after_s <= within_s
    assert of >= 3
    picture = story.picture()
    assert [a.kind for a in picture.alarms] == ["several_silent"]
    assert len(picture.alarms[0].wearers) == wearers
    assert (picture.signals_heard, picture.signals_expected) == (0, wearers)


@pytest.mark.parametrize(
    ("loss", "from_s", "within_s"), [(0.0, 0, 15), (0.1, 15, 30), (0.2, 15, 30)]
)
def test_three_of_a_crew_in_one_fade_are_no_surer_sign_than_two(
    story: "Story", loss: float, from_s: int, within_s: int
) -> None:
    """Where reports get lost, a fade of 15 s behind one wall is no danger of a crew of three.

    Before, it was one after 12 s. The bars are those of a crew of two.
    """
    told(story, 12, {1: GONE, 2: GONE, 3: GONE}, loss, of_crew=3)
    assert from_s < first_danger(story)[1] <= within_s


def test_both_of_a_crew(story: "Story") -> None:
    told(story, 12, {1: GONE, 2: GONE})
    assert first_danger(story)[0] == "crew_silent"
    alarm = story.alarm("crew_silent")
    assert (alarm.wearers, alarm.crew, alarm.subject) == ((1, 2), "Crew 1", "Crew 1")
    assert (alarm.raised_at_ns - GONE) / S <= 30
    # It tells for both of them.
    assert story.alarms() == ["crew_silent"]


@pytest.mark.parametrize("every_s", [10, 20])
def test_one_after_another_is_a_danger_by_the_fifth(story: "Story", every_s: int) -> None:
    gone = {n: GONE + (n // 2 + n % 2 * 6) * every_s * S for n in range(1, 13)}
    told(story, 12, gone)
    _, after_s, _ = first_danger(story)
    # The first goes at the first of these instants, so the fifth does four later.
    first = min(gone.values())
    assert after_s - (first - GONE) / S <= 4 * every_s


@pytest.mark.parametrize("loss", [0.1, 0.2])
def test_losses_each_on_their_own_are_no_danger(story: "Story", loss: float) -> None:
    told(story, 12, {}, loss)
    said = story.incident.take_announcements()
    assert [a.kind for a in said if a.priority is Priority.DANGER] == []


def test_a_crew_of_whom_one_is_told_of_by_voice_is_not_silent(story: "Story") -> None:
    told(story, 4, {1: GONE, 2: GONE})
    story.take("crew_silent")
    story.act(story.now, events.SpokenReading, wearers=(1,), pressure_bar=200)
    assert story.alarms() == ["no_signal"]
    assert story.alarm("no_signal").wearers == (2,)


def test_who_is_left_of_a_crew_has_their_own_line(story: "Story") -> None:
    told(story, 4, {1: GONE, 2: GONE})
    story.take("crew_silent")
    story.act(story.now, events.ComeOut, wearers=(1,))
    story.act(story.now, events.OffAir, wearers=(1,))
    assert [a.kind for a in story.picture().alarms if 2 in a.wearers] == ["no_signal"]
