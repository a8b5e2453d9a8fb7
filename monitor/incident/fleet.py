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
from monitor.incident.silence import by_voice, call_group, no_link_left
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

START_REPORTS, START_LOST = 40, 8
"""What the fleet starts from: a fifth lost ..."""
START_BURSTS, START_IN_BURSTS = 6, 30
"""... in bursts of five."""
FLEET_REPORTS, FLEET_BURSTS = 40.0, 4.0
"""How many reports, and bursts, the fleet's own say is worth beside what one link has told."""
CREW_MIN = 2


@dataclass(frozen=True, slots=True)
class Unheard:
    """One pack that has missed reports, and how its link is taken to be."""

    wearer: Wearer
    contact: Contact
    since_ns: int
    loss: float
    burst: float


def look_at_fleet(s: Situation) -> None:
    """Judge who is silent now, and say when to look again."""
    s.fleet_due_ns = None
    watched = _watched(s)
    if len(watched) < CREW_MIN:
        return
    interval_s = min(contact.interval_s for _, contact, _ in watched)
    again_ns = s.now + interval_s * SECOND_NS
    overdue = [
        (wearer, contact, since)
        for wearer, contact, since in watched
        if s.now - since > contact.interval_s * SECOND_NS + JITTER_NS
    ]
    if len(overdue) >= CREW_MIN and not no_link_left(s):
        unheard = _links(watched, overdue)
        due_ns, members = _judge(s, unheard, len(watched), interval_s)
        if members:
            _call_silent(s, members)
        again_ns = min(again_ns, due_ns)
    s.fleet_due_ns = again_ns
    s.deadlines.put(again_ns, Due.FLEET, 0)


def _watched(s: Situation) -> list[tuple[Wearer, Contact, int]]:
    """Everybody whose pack ought to be heard, and since when each is silent."""
    found = []
    for wearer in s.wearers.values():
        wear, contact = wearer.live_wear, s.contact_of(wearer)
        if wear is None or contact is None or contact.signed_off:
            continue
        since = contact.silent_since_ns
        if since is not None and not by_voice(contact, wear):
            found.append((wearer, contact, since))
    return found


def _links(
    watched: list[tuple[Wearer, Contact, int]], overdue: list[tuple[Wearer, Contact, int]]
) -> list[Unheard]:
    """How the links of those are who have missed reports, by their own say and the fleet's."""
    sent, lost, bursts = START_REPORTS, START_LOST, START_BURSTS
    in_bursts = START_IN_BURSTS
    for _, contact, _ in watched:
        account = contact.account
        sent += account.taken + account.lost
        lost += account.lost
        in_bursts += account.lost
        bursts += account.bursts
    fleet_loss, fleet_burst = lost / sent, in_bursts / bursts
    found = []
    for wearer, contact, since in overdue:
        own = contact.history.learnt(contact.account)
        loss = (own.lost + FLEET_REPORTS * fleet_loss) / (own.sent + FLEET_REPORTS)
        burst = (own.lost + FLEET_BURSTS * fleet_burst) / (own.bursts + FLEET_BURSTS)
        found.append(Unheard(wearer, contact, since, loss, max(burst, 1 / (1 - loss))))
    return found


def _judge(
    s: Situation, unheard: list[Unheard], packs: int, interval_s: int
) -> tuple[int, list[Unheard]]:
    """When it is a danger if nothing more comes, and whom it calls silent now."""
    sizes = fleet_rule.sizes(packs)
    groups = [
        (size, packs, fleet_rule.SHARE_PER_HOUR / len(sizes), unheard)
        for size in sizes
        if size <= len(unheard)
    ]
    crews = [name for name in dict.fromkeys(u.wearer.crew for u in unheard) if name]
    for name in crews:
        mates = [u for u in unheard if u.wearer.crew == name]
        size = _with_pack(s, name)
        if size >= CREW_MIN and len(mates) == size:
            share = fleet_rule.SHARE_PER_HOUR / max(1, packs // CREW_MIN)
            groups.append((size, size, share, mates))
    soonest, members = NEVER_NS, dict[int, Unheard]()
    for size, among, share, of in groups:
        chance = fleet_rule.chance_for(size, among, interval_s, share)
        due = sorted((_due_ns(s, one, chance), place) for place, one in enumerate(of))
        if due[size - 1][0] <= s.now:
            silent = (of[place] for t, place in due if t <= s.now)
            members.update((one.wearer.number, one) for one in silent)
        else:
            soonest = min(soonest, due[size - 1][0])
    return soonest, list(members.values())


def _with_pack(s: Situation, crew: str) -> int:
    return sum(w.live_wear is not None and w.pack is not None for w in s.crews.get(crew, ()))


def _due_ns(s: Situation, one: Unheard, chance: float) -> int:
    """When this pack's silence is so unlikely."""
    missed = fleet_rule.missed_for(one.loss, one.burst, chance)
    if missed is None:
        return NEVER_NS
    limit = missed * one.contact.interval_s * SECOND_NS + JITTER_NS
    return s.listening.due_ns(one.since_ns, limit)


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
