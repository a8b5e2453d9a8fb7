"""Several packs, or a whole crew, that fall silent: judged as a fleet, not one by one.

Each few seconds it is looked at who has missed reports, and reckoned when the rule of the fleet
would call it a danger if nothing more came; then it is looked at again. Whom it calls silent is
lost at once, before the pack's own limit has passed.

How links fail is learnt from all of them together, as far as one alone has not told enough: twelve
packs tell in a minute what one tells in twelve. Nothing known counts as bad: a fifth lost, five in
a row. What is said of each link then fades as in its own history.
"""

from dataclasses import dataclass

from monitor.incident import fleet_rule
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.conditions import review_contact, watch_insisting
from monitor.incident.contact import Contact
from monitor.incident.deadlines import NEVER_NS, Due
from monitor.incident.link_rule import JITTER_NS
from monitor.incident.silence import CREW_MIN, by_voice, call_group, crew_with_pack, no_link_left
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

START_REPORTS, START_LOST = 40, 8
"""What the fleet starts from: a fifth lost ..."""
START_BURSTS, START_IN_BURSTS = 6, 30
"""... in bursts of five."""
FLEET_REPORTS, FLEET_BURSTS = 40.0, 4.0
"""How many reports, and bursts, the fleet's own say is worth beside what one link has told."""
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
    loss: float = 0.0
    burst: float = 1.0

    def waits_ns(self, missed: int | None) -> int:
        """How long from now until so many reports are missed; at most 0: they are."""
        if missed is None:
            return NEVER_NS
        return missed * self.contact.interval_s * SECOND_NS + JITTER_NS - self.silent_ns


def look_at_fleet(s: Situation) -> None:
    """Judge who is silent now, and say when to look again."""
    s.fleet_due_ns = None
    now, interval_s, watched, overdue = s.now, INTERVAL_MAX_S, 0, list[Unheard]()
    for wearer in s.wearers.values():
        contact = s.contacts.get(wearer.pack or 0)
        if contact is None or contact.signed_off or not wearer.under_air:
            continue
        watched += 1
        told_s = contact.interval_s
        interval_s = min(interval_s, told_s)
        since = contact.silent_since_ns
        if since is not None and now - since > told_s * SECOND_NS + JITTER_NS:
            overdue.append(Unheard(wearer, contact, since, s.silent_ns(contact)))
    if watched < CREW_MIN:
        return
    again_ns = now + interval_s * SECOND_NS
    if len(overdue) >= CREW_MIN and not no_link_left(s):
        silent = [u for u in overdue if u.wearer.wear and not by_voice(u.contact, u.wearer.wear)]
        _learn(s, silent)
        waits_ns, members = _judge(s, silent, watched, interval_s)
        if members:
            _call_silent(s, members)
        again_ns = min(again_ns, now + waits_ns)
    s.fleet_due_ns = again_ns
    s.deadlines.put(again_ns, Due.FLEET, 0)


def _learn(s: Situation, silent: list[Unheard]) -> None:
    """How the links of those are who have missed reports, by their own say and the fleet's."""
    sent, lost, bursts = START_REPORTS, START_LOST, START_BURSTS
    in_bursts = START_IN_BURSTS
    for wearer in s.wearers.values():
        contact = s.contacts.get(wearer.pack or 0)
        if contact is not None and wearer.under_air:
            account = contact.account
            sent += account.taken + account.lost
            lost += account.lost
            in_bursts += account.lost
            bursts += account.bursts
    fleet_loss, fleet_burst = lost / sent, in_bursts / bursts
    for one in silent:
        own = one.contact.history.learnt(one.contact.account)
        one.loss = (own.lost + FLEET_REPORTS * fleet_loss) / (own.sent + FLEET_REPORTS)
        burst = (own.lost + FLEET_BURSTS * fleet_burst) / (own.bursts + FLEET_BURSTS)
        one.burst = max(burst, 1 / (1 - one.loss))


def _judge(
    s: Situation, silent: list[Unheard], packs: int, interval_s: int
) -> tuple[int, list[Unheard]]:
    """In how long it is a danger if nothing more comes, and whom it calls silent now."""
    sizes = fleet_rule.sizes(packs)
    share = fleet_rule.SHARE_PER_HOUR / max(1, len(sizes))
    sizes = tuple(size for size in sizes if size <= len(silent))
    chances = [fleet_rule.chance_for(size, packs, interval_s, share) for size in sizes]
    limits = [fleet_rule.all_missed_for(one.loss, one.burst, chances) for one in silent]
    soonest, members = NEVER_NS, dict[int, Unheard]()
    for place, size in enumerate(sizes):
        waits = [one.waits_ns(limit[place]) for one, limit in zip(silent, limits, strict=True)]
        soonest = _see(silent, waits, size, soonest, members)
    share = fleet_rule.SHARE_PER_HOUR / max(1, packs // CREW_MIN)
    for name in dict.fromkeys(one.wearer.crew for one in silent if one.wearer.crew):
        mates = [one for one in silent if one.wearer.crew == name]
        size = len(mates)
        if size < CREW_MIN or size < crew_with_pack(s, name):
            continue
        chance = fleet_rule.chance_for(size, size, interval_s, share)
        waits = [one.waits_ns(fleet_rule.missed_for(one.loss, one.burst, chance)) for one in mates]
        soonest = _see(mates, waits, size, soonest, members)
    return soonest, list(members.values())


def _see(
    silent: list[Unheard], waits: list[int], size: int, soonest: int, members: dict[int, Unheard]
) -> int:
    """Whether so many have missed enough: then they are members; else when they will have."""
    when = sorted(waits)[size - 1]
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
        contact.lost_by = rule._replace(limit_ns=min(rule.limit_ns, s.silent_ns(contact)))
        contact.lost = True
        contact.lost_ns = s.now
    call_group(s, {one.wearer.number: one.since_ns for one in members})
    for contact in new:
        review_contact(s, contact)
    watch_insisting(s)
