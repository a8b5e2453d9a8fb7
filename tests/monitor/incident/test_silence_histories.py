"""Random histories of crews whose packs come and go: whoever is silent stands in some line.

Found so: a link told up again while a line of several was ending left those who were still silent
in no line; one that was put aside and over worsened before it began. More of them:
``SILENCE_SEEDS=200``.
"""

import os
from random import Random
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Picture, Priority, Signal
from protocol.packets import Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
SEEDS = int(os.environ.get("SILENCE_SEEDS", "3"))
STEPS = 100
OF_SILENCE = {
    "no_signal", "no_word", "held_back", "several_silent", "crew_silent", "overdue", "pack_off",
    "still_then_silent",
}  # fmt: skip


class History:
    """Some minutes of up to twelve wearers, some of them without a pack or a crew."""

    def __init__(self, story: "Story", seed: int) -> None:
        self.story, self.random = story, Random(f"silence {seed}")
        self.wearers = list(range(1, self.random.choice((2, 4, 7, 12)) + 1))
        self.heard, self.up, self.t_s = set(self.wearers), True, 1
        self.bar = {w: self.random.uniform(110, 300) for w in self.wearers}
        story.do(0, events.LinkState(link=1, name="udp", up=True))
        for wearer in self.wearers:
            pack = 100 + wearer if self.random.random() < 0.9 else None
            story.list_and_join(wearer, pack, crew=self.random.choice(("A", "A", "B", "C", "")))
            if pack is not None:
                story.hear(0, pack, kind=Kind.SIGN_ON)
            story.act(0, events.Connect, wearers=(wearer,))
            story.act(0, events.Enter, wearers=(wearer,), location="kiln hall")

    def step(self) -> Picture:
        """A few seconds more, and perhaps something done."""
        self.t_s += self.random.choice((1, 2, 5, 5, 5, 15, 40))
        if self.random.random() < 0.1:
            self.heard = set(self.random.sample(self.wearers, self.random.randint(0, 2)))
        elif self.random.random() < 0.1:
            self.heard = set(self.wearers)
        for wearer in self.heard if self.up else ():
            self.bar[wearer] = max(0.0, self.bar[wearer] - self.random.uniform(0, 2))
            interval_s = self.random.choice((5, 5, 5, 11))
            dbar = round(self.bar[wearer] * 10)
            pack, at = 100 + wearer, self.t_s * S + wearer
            self.story.hear(at, pack, pressure_dbar=dbar, interval_s=interval_s)
        if self.random.random() < 0.6:
            self.deed(self.t_s * S + 20)
        return self.story.picture(self.story.now)

    def deed(self, t: int) -> None:
        """Something by the officer, or of the base; what is refused does nothing."""
        one, act = (self.random.choice(self.wearers),), self.story.act
        alarms = self.story.picture().alarms
        number = self.random.choice(alarms).number if alarms else 1
        crew = self.random.choice(("A", "B", "C", ""))
        match self.random.randint(0, 9):
            case 0 | 1 | 2 | 3:
                act(t, events.Acknowledge, alarms=(number,))
            case 4:
                act(t, events.PutAside, alarm=number, minutes=1, reason="known")
            case 5:
                act(t, events.SpokenReading, wearers=one, pressure_bar=int(self.bar[one[0]]))
            case 6:
                act(t, events.ComeOut, wearers=one)
                act(t, events.OffAir, wearers=one)
            case 7:
                act(t, events.Connect, wearers=one)
                act(t, events.Enter, wearers=one, location="store")
            case 8:
                act(t, events.SetCrew, wearer=one[0], crew=crew)
            case _:
                self.up = self.random.random() < 0.7
                self.story.do(t, events.LinkState(link=1, name="udp", up=self.up))


def not_told(picture: Picture) -> list[str]:
    """Who is not heard though the base hears, and stands in no line of silence.

    Also whose air is low by the estimate, and who stands in no danger.
    """
    lines = {
        w.wearer: [a for a in picture.alarms if w.wearer in a.wearers] for w in picture.wearers
    }
    aside = {wearer for one in picture.put_aside for wearer in one.wearers}
    found = []
    for wearer in picture.wearers:
        told = lines[wearer.wearer]
        dangers = [a for a in told if a.priority is Priority.DANGER]
        if not wearer.under_air or wearer.wearer in aside:
            continue
        hears = all(link.up for link in picture.links)
        if wearer.signal is Signal.LOST and hears and not OF_SILENCE & {a.kind for a in told}:
            found.append(f"{wearer.wearer} is silent")
        bar, low = wearer.air.pressure_bar, wearer.air.low_air_bar
        if bar is not None and low is not None and bar < low - 1 and not dangers:
            found.append(f"{wearer.wearer} has {bar:.0f} bar")
    return found


@pytest.mark.parametrize("seed", range(SEEDS))
def test_whoever_is_silent_stands_in_some_line(story: "Story", seed: int) -> None:
    history = History(story, seed)
    for _ in range(STEPS):
        picture = history.step()
        assert not_told(picture) == []
        assert story.incident.take_refusals() == ()
        assert all(alarm.subject and alarm.to_do for alarm in picture.alarms)
