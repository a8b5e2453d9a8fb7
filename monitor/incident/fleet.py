"""Several packs, or a whole crew, that fall silent: judged as a fleet, not one by one.

Each few seconds it is looked at who has missed reports, and reckoned when the rule of the fleet
would call it a danger if nothing more came; then it is looked at again. Whom it calls silent is
lost at once, before the pack's own limit has passed.

How links fail is learnt from all of them together, as far as one alone has not told enough: twelve
packs tell in a minute what one tells in twelve. So it is looked at, now and then, what each has
told since; between those looks the limits of all stay as they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.incident import fleet_rule
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.conditions import review_contact, watch_insisting
from monitor.incident.contact import Contact
from monitor.incident.deadlines import NEVER_NS, Due
from monitor.incident.link_rule import JITTER_NS, LEAST_NS, Counted, Link, alike, tell_fleet
from monitor.incident.silence import CREW_MIN, by_voice, call_group, crew_with_pack, no_link_left
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

LEARN_NS = 20 * SECOND_NS
"""How often it is looked at what the links have told."""
BEHIND_WALL = 2
"""Of one crew so many at most count as silent each for itself: mates stand behind one wall, and
three who are silent in one fade are no less likely than two (our own choice)."""
INTERVAL_MAX_S = 60
"""The longest that the packet format allows."""


@dataclass(slots=True)
class Unheard:
    """One pack that has missed reports, and how its link is taken to be."""

    wearer: Wearer
    contact: Contact
    since_ns: int
    silent_ns: int
    """Listening time since then."""
    link: Link

    def waits_ns(self, missed: int | None) -> int:
        """How long from now until so many reports are missed; at most 0: they are."""
        if missed is None:
            return NEVER_NS
        return missed * self.contact.interval_s * SECOND_NS + JITTER_NS - self.silent_ns


def look_at_fleet(s: Situation) -> None:
    """Judge who is silent now, and say when to look again."""
    s.fleet.due_ns = None
    now, interval_s, watched, overdue = s.now, INTERVAL_MAX_S, 0, list[tuple[Wearer, Contact]]()
    for wearer in s.wearers.values():
        contact = s.contacts.get(wearer.pack or 0)
        if contact is None or contact.signed_off or not wearer.under_air:
            continue
        watched += 1
        told_s = contact.interval_s
        interval_s = min(interval_s, told_s)
        since = contact.silent_since_ns
        if since is not None and now - since > told_s * SECOND_NS + JITTER_NS:
            overdue.append((wearer, contact))
    if watched < CREW_MIN:
        return
    if now - s.fleet.learnt_ns >= LEARN_NS:
        _learn(s)
    again_ns = now + interval_s * SECOND_NS
    if len(overdue) >= CREW_MIN and not no_link_left(s):
        waits_ns, members = _judge(s, _unheard(s, overdue), watched, interval_s)
        if members:
            _call_silent(s, members)
        again_ns = min(again_ns, now + waits_ns)
    s.fleet.due_ns = again_ns
    s.deadlines.put(again_ns, Due.FLEET, 0)


def _learn(s: Situation) -> None:
    """Take in what the links of the board have told since; limits may be shorter then."""
    s.fleet.learnt_ns = s.now
    contacts = [c for w in s.wearers.values() if (c := s.contacts.get(w.pack or 0)) is not None]
    for contact in contacts:
        fleet = s.fleet.links.setdefault(contact.interval_s, Counted())
        tell_fleet(fleet, contact.history.news(contact.account))
    s.fleet.alike = {every_s: alike(told, every_s) for every_s, told in s.fleet.links.items()}
    for contact in contacts:
        since = contact.silent_since_ns
        if since is not None and s.now - since >= LEAST_NS:
            s.watch_silence(contact)


def _unheard(s: Situation, overdue: list[tuple[Wearer, Contact]]) -> list[Unheard]:
    return [
        Unheard(w, c, c.silent_since_ns or 0, s.silent_ns(c), s.link(c))
        for w, c in overdue
        if w.wear and not by_voice(c, w.wear)
    ]


def _judge(
    s: Situation, silent: list[Unheard], packs: int, interval_s: int
) -> tuple[int, list[Unheard]]:
    """In how long it is a danger if nothing more comes, and whom it calls silent now."""
    soonest, members = NEVER_NS, dict[int, Unheard]()
    if not silent:
        return soonest, []
    sizes = fleet_rule.sizes(packs)
    often = fleet_rule.FLEET_PER_HOUR / max(1, len(sizes))
    often *= fleet_rule.least_burst(one.link for one in silent)
    sizes = tuple(size for size in sizes if size <= len(silent))
    chances = [fleet_rule.chance_for(size, packs, interval_s, often) for size in sizes]
    limits = [fleet_rule.Runs(one.link, begins=False).missed_for(chances) for one in silent]
    for place, size in enumerate(sizes):
        waits = [one.waits_ns(limit[place]) for one, limit in zip(silent, limits, strict=True)]
        apart = _apart(silent, waits)
        if len(apart) >= size:
            soonest = _see(silent, waits, apart[size - 1], soonest, members)
    crews = max(1, packs // CREW_MIN)
    for name in dict.fromkeys(one.wearer.crew for one in silent if one.wearer.crew):
        mates = [one for one in silent if one.wearer.crew == name]
        if len(mates) >= max(CREW_MIN, crew_with_pack(s, name)):
            soonest = _judge_crew(mates, crews, interval_s, soonest, members)
    return soonest, list(members.values())


def _judge_crew(
    mates: list[Unheard], crews: int, interval_s: int, soonest: int, members: dict[int, Unheard]
) -> int:
    """The same for all of one crew, and once more if their silences began together."""
    size, since = min(len(mates), BEHIND_WALL), [one.since_ns for one in mates]
    often = fleet_rule.CREWS_PER_HOUR / crews * fleet_rule.least_burst(m.link for m in mates)
    limits = [(False, often)]
    if max(since) - min(since) < interval_s * SECOND_NS:
        limits.append((True, fleet_rule.TOGETHER_PER_HOUR / crews))
    for begins, share in limits:
        chance = fleet_rule.chance_for(size, size, interval_s, share)
        runs = [fleet_rule.Runs(one.link, begins=begins).missed_for([chance])[0] for one in mates]
        waits = [one.waits_ns(missed) for one, missed in zip(mates, runs, strict=True)]
        soonest = _see(mates, waits, max(waits), soonest, members)
    return soonest


def _apart(silent: Sequence[Unheard], waits: Sequence[int]) -> list[int]:
    """The waits of those who count as silent each for itself, the shortest first."""
    found, of_crew = list[int](), dict[str, int]()
    for wait, crew in sorted((w, one.wearer.crew) for w, one in zip(waits, silent, strict=True)):
        of_crew[crew] = of_crew.get(crew, 0) + 1
        if not crew or of_crew[crew] <= BEHIND_WALL:
            found.append(wait)
    return found


def _see(
    silent: Sequence[Unheard],
    waits: Sequence[int],
    when: int,
    soonest: int,
    members: dict[int, Unheard],
) -> int:
    """Whether enough have missed enough: then they are members; else when they will have.

    ``when``: in how long that is.
    """
    if when > 0:
        return min(soonest, when)
    for one, wait in zip(silent, waits, strict=True):
        if wait <= 0:
            members[one.wearer.number] = one
    return soonest


def _call_silent(s: Situation, members: list[Unheard]) -> None:
    """These are lost, whatever their own limits say; three or more are one alarm."""
    new = [one.contact for one in members if not one.contact.lost]
    for contact in new:
        rule = s.link_rule(contact)
        contact.lose(s.now, rule._replace(limit_ns=min(rule.limit_ns, s.silent_ns(contact))))
    call_group(s, {one.wearer.number: one.since_ns for one in members})
    for contact in new:
        review_contact(s, contact)
    watch_insisting(s)
