"""One alarm line for several of whom the same is to be said: the mates of a crew, or crews.

Each member keeps its own deadlines, and its own line once it is worse than the others: only what
is equally urgent is told together. Who joins a group that waits is in it; who joins one that was
taken is taken in and named as new, without a sound, since the call is the same or has just been
made. The group sounds again when by rule it is worse: as many crews have joined it since it was
taken as are still in it of those then (of a danger: anybody has), and not within two minutes of its
last beginning; and soon after nobody is left in it of those for whom it was taken. Whoever joins a
danger of several crews is sounded for at the latest then, two minutes after it last was.
"""

from collections.abc import Sequence

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import in_scope
from monitor.incident.alarms.engine import Alarm, Key
from monitor.incident.alarms.entry import Kind
from monitor.incident.alarms.states import State
from monitor.incident.deadlines import Due
from monitor.incident.picture import Priority
from monitor.incident.several import Share
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

TOGETHER_NS = 120 * SECOND_NS
"""What comes within this of a group's beginning belongs to it: time for one round of calls."""
ROUND_NS = 15 * SECOND_NS
"""Time to note the others of a group, one by one, before it is asked for anew (our own choice)."""
OF_ALL = frozenset({Kind.TURN_BACK, Kind.TURN_SOON, Kind.BACK_DUE})
"""Told in one line of all crews; what is worse is told of each crew by its name."""
OF_EVERYBODY = frozenset({Kind.NOT_PROVEN, Kind.PACK_OFF})
"""Told in one line of all wearers: what they share is the base's own radio, or the door to which
those have come whose way back is noted. Of whoever else is switched off each crew is told alone."""
OF_A_CREW = frozenset(
    {
        Kind.PACK_OFF,
        Kind.NO_WORD,
        Kind.HELD_BACK,
        Kind.NOT_ON_AIR,
        Kind.OUT_BREATHES,
        Kind.MOTION_UNSEEN,
        Kind.SLOW_REPORTS,
        Kind.ALONE,
        Kind.GAUGE_DUE,
        Kind.FILL_LOW,
        Kind.REST,
        Kind.LEFT_ON,
    }
)
"""Told in one line of each crew: mates are in one place, and one call answers for all of them. Of a
danger of one of them, where it is none for all, that one is told alone."""
NAMES_MAX = 4
"""Crews or wearers named in one line of 80 columns, ..."""
NAMES_CELLS = 34
"""... and the longest that these names may be together: one crew's is 20 at the most."""


def share(
    s: Situation,
    group: Key,
    member: Key,
    wearers: Sequence[int],
    *,
    holds: bool,
    held: bool = False,
) -> None:
    """Tell the engine whether the condition of a group holds for one of its members.

    ``member``: the key that this one would have alone. ``held``: suppressed by design for it.
    """
    shares = s.shared.groups.get(group)
    before = shares.get(member) if shares else None
    now = Share(tuple(wearers), held, before.since_ns if before else s.now) if holds else None
    if before == now:
        return
    if shares is None:
        shares = s.shared.groups[group] = {}
    news = now is not None and not held and (before is None or before.held)
    joined = news and (_worse(s, group) or _was_not_put_aside(s, group, wearers))
    if now is None:
        shares.pop(member)
    else:
        shares[member] = now
    told = [one for one in shares.values() if not one.held] or list(shares.values())
    s.engine.put(
        group,
        s.now,
        condition=bool(shares),
        held=all(one.held for one in told) and bool(shares),
        # Of a line that is over stays whom it was about.
        wearers=tuple(w for one in told for w in one.wearers) if shares else None,
        joined=joined,
    )
    _watch_all_new(s, group, told)
    if not shares:
        del s.shared.groups[group]


def put(
    s: Situation,
    kind: Kind,
    wearer: Wearer,
    priority: Priority | None = None,
    *,
    condition: bool,
    held: bool = False,
    at_once: bool = False,
) -> None:
    """Tell the engine a condition of a wearer, as far as it is in scope in this phase.

    In one line with the mates of whom it holds too, where its kind is told so. What leaves its
    scope is over at once, whatever flickers.
    """
    scope = in_scope(kind, wearer.phase)
    holds, own = condition and scope, Key(kind, wearer=wearer.number)
    alone = True
    if kind in OF_A_CREW or kind in OF_EVERYBODY:
        alone = not _put_with_mates(s, own, wearer, priority, holds=holds, held=held)
    s.engine.put(
        own,
        s.now,
        priority,
        condition=holds and alone,
        held=held,
        at_once=at_once or not scope,
    )


def _put_with_mates(
    s: Situation, own: Key, wearer: Wearer, priority: Priority | None, *, holds: bool, held: bool
) -> bool:
    """Tell the group of the crew, or of all; whether it tells of this wearer from now on."""
    group = _group_of(own.kind, wearer)
    before = s.shared.of_crew.get(own)
    if before is not None and priority is not None and holds:
        worsen_alone(s, before, own)
    alone = group is None or priority is not None or own in s.engine.by_key
    if before is not None and (before != group or alone or not holds):
        share(s, before, own, (), holds=False)
        del s.shared.of_crew[own]
    if group is None or alone or not holds:
        return False
    share(s, group, own, (wearer.number,), holds=True, held=held)
    s.shared.of_crew[own] = group
    return True


def _group_of(kind: Kind, wearer: Wearer) -> Key | None:
    """The line in which this wearer is told with others; None: a wearer of no crew, alone."""
    wear = wearer.live_wear
    if kind is Kind.NOT_PROVEN or (kind is Kind.PACK_OFF and wear and wear.back_ns is not None):
        return Key(kind)
    return Key(kind, crew=wearer.crew) if wearer.crew else None


def settle(s: Situation, kind: Kind, wearer: Wearer) -> None:
    """The officer's own act is the answer: a line of this wearer that is over needs no taking."""
    s.engine.settle(Key(kind, wearer=wearer.number), s.now)
    if wearer.crew and kind in OF_A_CREW:
        s.engine.settle(Key(kind, crew=wearer.crew), s.now)


def worsen_alone(s: Situation, group: Key, member: Key) -> None:
    """A member that becomes more urgent takes the line with it if nobody else is in it."""
    if s.shared.groups.get(group, {}).keys() == {member} and member not in s.engine.by_key:
        del s.shared.groups[group]
        s.shared.all_new.pop(group, None)
        s.engine.move(group, member)


def _worse(s: Situation, group: Key) -> bool:
    """Whether one more member makes a group that was taken wait anew: of a danger each does."""
    alarm = s.engine.by_key.get(group)
    if alarm is None or s.now - alarm.waiting_ns < TOGETHER_NS:
        return False
    if alarm.priority is Priority.DANGER:
        return True
    known = [any(w in alarm.known for w in one.wearers) for one in s.shared.groups[group].values()]
    return known.count(False) + 1 >= known.count(True)


def _was_not_put_aside(s: Situation, group: Key, wearers: Sequence[int]) -> bool:
    """Whether a group was put aside when nobody knew that these would be in it."""
    alarm = s.engine.by_key.get(group)
    return alarm is not None and alarm.aside is not None and not alarm.aside_of >= set(wearers)


def asks_anew_ns(s: Situation, number: int) -> int | None:
    """When a group is to be asked for anew, since it was not taken for those who are in it."""
    alarm = s.engine.by_number.get(number)
    taken = alarm is not None and alarm.state is State.ACKNOWLEDGED
    return s.shared.all_new.get(alarm.key) if alarm is not None and taken else None


def ask_anew(s: Situation, number: int) -> None:
    """Nobody has taken it for those who are in it now."""
    key = s.engine.by_number[number].key
    del s.shared.all_new[key]
    s.engine.put(key, s.now, condition=True, joined=True)


def _watch_all_new(s: Situation, group: Key, told: Sequence[Share]) -> None:
    """Keep the time from which a group that was taken is about others than it was taken for."""
    alarm = s.engine.by_key.get(group)
    taken = alarm is not None and alarm.state is State.ACKNOWLEDGED
    if alarm is None or not taken or alarm.priority is Priority.NOTICE or not told:
        s.shared.all_new.pop(group, None)
        return
    there = [w for one in told for w in one.wearers]
    due_ns = s.now + ROUND_NS
    if any(w in alarm.known for w in there):
        new_crew = any(_is_of_a_new_crew(s, alarm, w) for w in there)
        if group.crew or alarm.priority is not Priority.DANGER or not new_crew:
            s.shared.all_new.pop(group, None)
            return
        due_ns = max(due_ns, alarm.waiting_ns + TOGETHER_NS)
    due_ns = min(due_ns, s.shared.all_new.get(group, due_ns))
    s.shared.all_new[group] = due_ns
    s.deadlines.put(due_ns, Due.ALL_NEW, alarm.number)


def _is_of_a_new_crew(s: Situation, alarm: Alarm, wearer: int) -> bool:
    """Whether this one was not in it when it was taken, nor anybody whom the same call reaches."""
    crew = s.wearers[wearer].crew
    return wearer not in alarm.known and not (
        crew and any(s.wearers[w].crew == crew for w in alarm.known)
    )


def since_ns(s: Situation, alarm: Alarm, wearer: int) -> int:
    """Since when an alarm is about this wearer: of one of several, since the wearer joined it."""
    shares = s.shared.groups.get(alarm.key, {}).values()
    packs = s.together.get(alarm.key.kind) if alarm.key == Key(alarm.key.kind) else None
    whole_ns = alarm.raised_ns if packs is None else packs.wearers.get(wearer, alarm.raised_ns)
    return max((one.since_ns for one in shares if wearer in one.wearers), default=whole_ns)


def is_group(alarm: Alarm) -> bool:
    """Whether a line is one that several may share."""
    key = alarm.key
    if key.wearer or key.pack:
        return False
    return key.kind in OF_A_CREW if key.crew else key.kind in OF_ALL or key.kind in OF_EVERYBODY


def crews(s: Situation, alarm: Alarm) -> list[str]:
    """Crews that a line is about, those first who have joined it since it was taken."""
    return list(dict.fromkeys(s.wearers[w].crew or s.wearers[w].label for w in _in_order(alarm)))


def names(s: Situation, alarm: Alarm) -> str:
    """Whom a group's line is about: crews, or the members of one; as many as a line holds."""
    if alarm.key.kind in OF_ALL:
        return named(crews(s, alarm))
    found, crew = _labels(s, alarm), alarm.key.crew
    if not crew and named(found) != ", ".join(found):
        return named(crews(s, alarm))  # too many for one line
    of = "" if any(crew in label for label in found) else f"{crew}: "
    return of + named(found, cells=NAMES_CELLS - len(of))


def named(found: Sequence[str], of: int = 0, cells: int = NAMES_CELLS) -> str:
    """As many of these names as fit, and how many more there are. ``of``: in all."""
    told = list(found[:NAMES_MAX])
    while len(told) > 1 and len(", ".join(told)) > cells:
        told.pop()
    more = max(of, len(found)) - len(told)
    return f"{', '.join(told)} + {more} more" if more else ", ".join(told)


def news(s: Situation, alarm: Alarm) -> str:
    """How many have joined since it was taken; empty: nobody has."""
    if alarm.waits or alarm.priority is Priority.NOTICE:
        return ""
    new = [w for w in alarm.wearers if w not in alarm.known]
    if alarm.key.kind in OF_ALL:
        known = {s.wearers[w].crew for w in alarm.known}
        fresh = dict.fromkeys(s.wearers[w].crew or s.wearers[w].label for w in new)
        new_names = [name for name in fresh if name not in known]
    else:
        new_names = [s.wearers[w].label for w in new]
    return f"{len(new_names)} new: {', '.join(new_names[:NAMES_MAX])}" if new_names else ""


def _labels(s: Situation, alarm: Alarm) -> list[str]:
    return [s.wearers[w].label for w in _in_order(alarm)]


def _in_order(alarm: Alarm) -> list[int]:
    return sorted(alarm.wearers, key=lambda w: (bool(alarm.known) and w in alarm.known, w))
