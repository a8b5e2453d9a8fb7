"""What a fact about the base itself does to the incident."""

from collections.abc import Callable

from monitor.incident import events
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.base_power import BasePower
from monitor.incident.conditions import (
    review_base,
    review_contact,
    review_watched,
    watch_insisting,
)
from monitor.incident.deadlines import Due
from monitor.incident.hearing import hear_thinned
from monitor.incident.orders import keeping, sending
from monitor.incident.orders.events import OrdersSent
from monitor.incident.second_place import SecondPlace
from monitor.incident.silence import no_link_left
from monitor.incident.situation import Situation
from monitor.incident.still_heard import Thinned

FOREIGN_REASONS = frozenset({"TAG", "EPOCH_UNKNOWN", "NOT_KEYED", "KEYED_UNREADABLE", "BUSY"})
"""Reasons of a refused frame that mean: not one of ours."""
FOREIGN_QUIET_NS = 60 * SECOND_NS
"""Such frames are forgotten after so long a quiet."""
REASONS_MAX = 200
"""Reasons counted; there are far fewer."""
LOST_QUIET_NS = 60 * SECOND_NS
"""So are packets that the machine lost."""
LINKS_MAX = 64


def not_listening(s: Situation, fact: events.Act | events.Fact, t: int) -> None:
    """Note a spell in which nobody listened, before any deadline in it can fire."""
    if isinstance(fact, events.Stall):
        s.listening.deaf(fact.from_ns, fact.to_ns)
    elif isinstance(fact, events.Resumed):
        s.listening.deaf(t, t + fact.down_ns)
    elif isinstance(fact, events.TimeMoved):
        s.listening.deaf(t, t + fact.by_ns)


def take_fact(s: Situation, fact: events.Act | events.Fact) -> None:
    """Do what the fact does besides."""
    taker = _TAKERS.get(type(fact))
    if taker is not None:
        taker(s, fact)
        watch_insisting(s)


def _resumed(s: Situation, fact: events.Resumed) -> None:
    s.wall_base_ns = fact.wall_ns - (s.now + fact.down_ns)
    s.orders.new_session()
    s.heard_before.update(link.name for link in s.links.values() if link.up)
    if fact.known_by == "unknown":
        s.engine.pulse(Key(Kind.TIME_UNKNOWN), s.now)


def _went_on(s: Situation, fact: events.WentOn) -> None:
    s.wall_base_ns = fact.wall_ns - s.now


def _clock_step(s: Situation, fact: events.ClockStep) -> None:
    s.wall_base_ns = fact.wall_ns - s.now


def _time_moved(s: Situation, fact: events.TimeMoved) -> None:
    # Incident time jumps, the wall clock does not.
    s.wall_base_ns -= fact.by_ns


def _link_state(s: Situation, fact: events.LinkState) -> None:
    if fact.link in s.links or len(s.links) < LINKS_MAX:
        before = s.links.get(fact.link)
        if fact.lost > (before.lost if before is not None else 0):
            s.listening.lost_ns = s.now
            s.deadlines.put(s.now + LOST_QUIET_NS, Due.LOST_OVER, 0)
        s.links[fact.link] = fact
        if fact.up:
            s.heard_before.discard(fact.name)
        if no_link_left(s):
            s.link_gone_ns = s.now if s.link_gone_ns is None else s.link_gone_ns
        elif s.link_gone_ns is not None:
            s.listen_again(s.link_gone_ns)
            s.link_gone_ns = None
        review_base(s)


def _refused(s: Situation, fact: events.Refused) -> None:
    for reason, count in fact.counts.items():
        if reason in s.refused or len(s.refused) < REASONS_MAX:
            s.refused[reason] = s.refused.get(reason, 0) + count
    if not FOREIGN_REASONS.isdisjoint(fact.counts):
        s.foreign_ns = s.now
        s.deadlines.put(s.now + FOREIGN_QUIET_NS, Due.FOREIGN_OVER, 0)
        review_base(s)


def _disk_state(s: Situation, fact: events.DiskState) -> None:
    s.disk = fact
    review_base(s)


def _setup(s: Situation, fact: events.Setup) -> None:
    s.setup = fact
    for number in [number for number in s.links if number > len(fact.links)]:
        # Recording goes on with fewer: those are of no account any more.
        del s.links[number]
        s.engine.put(Key(Kind.RECEIVER_DOWN, link=number), s.now, condition=False)
    review_base(s)


def _second_place(s: Situation, fact: SecondPlace) -> None:
    if fact.path and fact.state != "no answer":
        s.second_places = (fact.path, *fact.also)


def _sound_state(s: Situation, fact: events.SoundState) -> None:
    s.sound = fact
    review_base(s)


def _base_power(s: Situation, fact: BasePower) -> None:
    if s.power is None or s.power.state != fact.state:
        s.battery_ns = s.now
    s.power = fact
    review_base(s)


def _boards_alive(s: Situation, fact: events.BoardsAlive) -> None:
    s.watched = fact.alive
    review_watched(s)
    keeping.review(s)


def _holder(s: Situation, fact: events.Holder) -> None:
    s.holder = fact
    s.record.officer = fact.by or s.record.officer


def _pack_clock(s: Situation, fact: events.PackClock) -> None:
    contact = s.contacts.get(fact.pack)
    if contact is not None:
        contact.clock_ppm = fact.ppm
        review_contact(s, contact)


_TAKERS: dict[type, Callable[..., None]] = {
    events.Resumed: _resumed,
    events.Setup: _setup,
    events.ClockStep: _clock_step,
    events.WentOn: _went_on,
    events.TimeMoved: _time_moved,
    events.LinkState: _link_state,
    events.Refused: _refused,
    events.DiskState: _disk_state,
    SecondPlace: _second_place,
    events.SoundState: _sound_state,
    BasePower: _base_power,
    events.BoardsAlive: _boards_alive,
    events.Holder: _holder,
    events.PackClock: _pack_clock,
    OrdersSent: sending.sent,
    Thinned: hear_thinned,
}
