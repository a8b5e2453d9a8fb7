"""Doubts that are told together: one alarm line for all packs of which the same is to be said.

Old frames of any number of packs can be played, and strangers made up, by whoever likes; so what
they raise never costs more than one line, with a count and names. What is new of it asks for
attention again: at once where no recording can have said it and this pack has not asked so yet,
else a minute after the line last did. Further calls that prove nothing wait twice as long each
time, so that nobody with a recording sets the pace; whoever calls for the first time does not.

Calls for help without proof stand until the officer has ended them (strangers': has taken them),
with everybody who called meanwhile.
"""

from collections.abc import Collection
from itertools import islice

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Alarm, Key
from monitor.incident.alarms.states import State
from monitor.incident.calls import News
from monitor.incident.contact import Contact
from monitor.incident.deadlines import Due
from monitor.incident.grouping import named
from monitor.incident.several import Together
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer
from protocol.packets import Motion

AGAIN_NS = 60 * SECOND_NS
"""What is new makes a line wait anew only after so long: a player of recordings sets the pace."""
FIRST_NS = 10 * SECOND_NS
"""The same for who on the board calls for the first time: as often as a danger that nobody takes
sounds anyway. There are no more of these than people, until the officer has ended it."""
AGAIN_MOST_NS = 16 * AGAIN_NS
"""The longest of the waits that double: under half of what one cylinder lasts."""
NAMES_MAX = 8
"""Packs named below the line, ..."""
NAMES_CELLS = 44
"""... and the longest that the names in it may be together: beside several stand no place and no
air, and 80 columns less the word, the time and NEW are 48."""

KINDS = (Kind.SAME_IDENTITY, Kind.COUNTER_LOST, Kind.STRANGERS, Kind.UNPROVEN_DISTRESS)
"""The place of each is its number among the deadlines."""
_CALLS = (Kind.STRANGERS, Kind.UNPROVEN_DISTRESS)


def review_together(s: Situation, contact: Contact) -> None:
    """Put this pack among those that share an alarm of their numbers, or take it out."""
    _review(s, Kind.SAME_IDENTITY, contact, holds=contact.clash and contact.rivals)
    _review(s, Kind.COUNTER_LOST, contact, holds=contact.clash and not contact.rivals)
    strangers = s.together.get(Kind.STRANGERS)
    if contact.wearer and strangers is not None and contact.identity in strangers.packs:
        _take_out(s, Kind.STRANGERS, strangers, contact)
        s.engine.put(Key(Kind.STRANGERS), s.now, condition=_calling(s, strangers))
        if contact.distress_doubt_ns is not None:
            note_call(s, contact, News.PRESS)


def note_call(s: Situation, contact: Contact, news: News) -> None:
    """A pack says in a frame without proof that its wearer may need help."""
    kind = Kind.UNPROVEN_DISTRESS if contact.wearer else Kind.STRANGERS
    group = _group(s, kind)
    alarm = s.engine.by_key.get(Key(kind))
    first = contact.identity not in group.packs
    over = alarm is not None and not alarm.condition
    _take_in(s, group, contact, anew=over or news is not News.GOES_ON)
    group.last_ns = s.now
    pace_ns = _pace_ns(contact, news, first=first)
    if over and pace_ns is None:
        _slow_down(group)
    s.engine.put(Key(kind), s.now, condition=True, wearers=group.wearers)
    if alarm is not None and (first or news is not News.GOES_ON):
        _ask_again(s, kind, group, alarm, pace_ns)
    _watch(s, kind)


def _pace_ns(contact: Contact, news: News, *, first: bool) -> int | None:
    """How long after a line last began to wait this makes it wait anew.

    What only a pack of now can have said, once a pack: at once, for there are no more of these than
    people on the board. Who on the board calls for the first time: as ``FIRST_NS`` says, since that
    can be made up, once for each. What else only a pack of now can have said: as ``AGAIN_NS`` says.
    What anybody may say as often as they like: longer each time.
    """
    if contact.wearer and news is News.STRONGER:
        return 0
    if contact.wearer and first:
        return FIRST_NS
    return AGAIN_NS if news >= News.PRESS_NOW else None


def is_proven(s: Situation, contact: Contact) -> None:
    """A frame that counts says of its wearer what calls without proof have said: it is one alarm.

    Not while two packs answer to this identity: the other may be who called.
    """
    kind = Kind.UNPROVEN_DISTRESS if contact.wearer else Kind.STRANGERS
    report, calls = contact.report, contact.calls
    group = s.together.get(kind)
    if group is None or report is None or calls is None or contact.identity not in group.packs:
        return
    still = report.motion is Motion.ALARM and not calls.pressed
    if contact.clash or not (report.distress or still):
        return
    calls.forget()
    contact.distress_doubt_ns = None
    _take_out(s, kind, group, contact)
    if group.packs:
        s.engine.put(Key(kind), s.now, condition=_calling(s, group), wearers=group.wearers)
    else:
        s.engine.take_over(Key(kind), s.now)
        s.together.pop(kind, None)


def settle_together(s: Situation, alarm: Alarm) -> None:
    """The officer has ended an alarm: whoever calls from now on, calls anew."""
    group = s.together.get(alarm.key.kind)
    if group is None or alarm.key != Key(alarm.key.kind):
        return
    for identity in group.packs:
        contact = s.contacts.get(identity)
        if contact is not None and contact.calls is not None:
            contact.calls.forget()
    del s.together[alarm.key.kind]


def together_due_ns(s: Situation, subject: int) -> int | None:
    """When such an alarm is to be looked at again."""
    kind = KINDS[subject]
    group, alarm = s.together.get(kind), s.engine.by_key.get(Key(kind))
    if group is None or alarm is None:
        return None
    dues = [] if group.ring_ns is None else [group.ring_ns]
    if kind in _CALLS and alarm.condition:
        dues.append(group.last_ns + group.quiet_ns)
    return min(dues, default=None)


def look_at_together(s: Situation, subject: int) -> None:
    """Let it wait anew if that is due, or be over."""
    kind = KINDS[subject]
    group, alarm = s.together[kind], s.engine.by_key[Key(kind)]
    if group.ring_ns is not None and group.ring_ns <= s.now:
        _ring(s, kind, group, alarm)
    if kind in _CALLS and not _calling(s, group):
        s.engine.put(Key(kind), s.now, condition=False)
    _watch(s, kind)


def only_one(s: Situation, alarm: Alarm) -> Wearer | None:
    """The wearer whom such an alarm is about, if it is about one pack."""
    group = _told_by(s, alarm)
    if group is None or len(group.packs) != 1:
        return None
    return s.wearers.get(next(iter(group.packs.values())))


def group_of(s: Situation, alarm: Alarm) -> str:
    """Whom such an alarm is about, for its line; empty for any other alarm."""
    group = _told_by(s, alarm)
    if group is None:
        return ""
    if len(group.packs) > 1 and not group.wearers:
        return f"{len(group.packs)} packs"
    found = _labels(s, group, _new(alarm))
    return named(found, len(group.packs), NAMES_CELLS) or group.names_over


def names_of(s: Situation, alarm: Alarm) -> str | None:
    """Who they are; None where the line says it. Of one that was taken: who has joined it since."""
    group = _told_by(s, alarm)
    if group is None or not len(group.packs) > 1:
        return None
    new = _new(alarm)
    if alarm.waits or not new:
        found = _labels(s, group)
        whole = group.wearers and named(found, len(group.packs), NAMES_CELLS) == ", ".join(found)
        return None if whole else _names(s, group)
    return f"{len(new)} new: {', '.join(s.wearers[w].label for w in new[:NAMES_MAX])}"


# ---------------------------------------------------------------- inside


def _told_by(s: Situation, alarm: Alarm) -> Together | None:
    return s.together.get(alarm.key.kind) if alarm.key == Key(alarm.key.kind) else None


def _group(s: Situation, kind: Kind) -> Together:
    """Those of the alarm that stands; nobody, if there is none."""
    group = s.together.get(kind)
    if group is None or Key(kind) not in s.engine.by_key:
        group = s.together[kind] = Together(AGAIN_NS)
    return group


def _review(s: Situation, kind: Kind, contact: Contact, *, holds: bool) -> None:
    group = s.together.get(kind)
    before = group.packs.get(contact.identity) if group else None
    if before == (contact.wearer if holds else None):
        return
    group = _group(s, kind)
    alarm = s.engine.by_key.get(Key(kind))
    if holds:
        _take_in(s, group, contact)
    else:
        _take_out(s, kind, group, contact)
    s.engine.put(Key(kind), s.now, condition=bool(group.packs), wearers=group.wearers)
    if holds and before is None and alarm is not None:
        _ask_again(s, kind, group, alarm, AGAIN_NS)
        _watch(s, kind)


def _take_in(s: Situation, group: Together, contact: Contact, *, anew: bool = False) -> None:
    """Say it of this pack too; ``anew``: it is to be said of it once more, from now on."""
    before = group.packs.get(contact.identity)
    if before and before != contact.wearer:
        group.wearers.pop(before, None)
    group.packs[contact.identity] = contact.wearer
    if contact.wearer and (anew or contact.wearer not in group.wearers):
        group.wearers[contact.wearer] = s.now


def _take_out(s: Situation, kind: Kind, group: Together, contact: Contact) -> None:
    if len(group.packs) == 1:
        group.names_over = _names(s, group)
    group.wearers.pop(group.packs.pop(contact.identity, 0), None)
    if not group.packs and Key(kind) not in s.engine.by_key:
        del s.together[kind]


def _calling(s: Situation, group: Together) -> bool:
    return bool(group.packs) and s.now - group.last_ns < group.quiet_ns


def _slow_down(group: Together) -> None:
    group.quiet_ns = min(2 * group.quiet_ns, AGAIN_MOST_NS)


def _ask_again(
    s: Situation, kind: Kind, group: Together, alarm: Alarm, pace_ns: int | None
) -> None:
    """Let an alarm that was taken wait anew, ``pace_ns`` after it last began to or at once."""
    if alarm.state is not State.ACKNOWLEDGED:
        return
    at_ns = max(s.now, alarm.waiting_ns + (group.quiet_ns if pace_ns is None else pace_ns))
    if group.ring_ns is None or at_ns < group.ring_ns:
        group.ring_ns = at_ns
        if pace_ns is None:
            _slow_down(group)
    if group.ring_ns <= s.now:
        _ring(s, kind, group, alarm)


def _ring(s: Situation, kind: Kind, group: Together, alarm: Alarm) -> None:
    group.ring_ns = None
    s.engine.put(Key(kind), s.now, condition=alarm.condition, joined=True)


def _watch(s: Situation, kind: Kind) -> None:
    due_ns = together_due_ns(s, KINDS.index(kind))
    if due_ns is not None:
        s.deadlines.put(max(due_ns, s.now), Due.TOGETHER, KINDS.index(kind))


def _new(alarm: Alarm) -> list[int]:
    """Wearers who have joined it since it was taken; nobody, if it was not."""
    return [w for w in sorted(alarm.wearers) if w not in alarm.known] if alarm.known else []


def _labels(s: Situation, group: Together, first: Collection[int] = ()) -> list[str]:
    """Some in it: the first of these, then who else is on the board, then packs of nobody.

    Of whom it was said last comes first: of those who have called, who calls now.
    """
    since = group.wearers
    wearers = sorted(since, key=lambda n: (n not in first, -since[n], n))[:NAMES_MAX]
    others = (f"pack {pack}" for pack, wearer in group.packs.items() if not wearer)
    room = NAMES_MAX - len(wearers)
    return [s.wearers[number].label for number in wearers] + list(islice(others, room))


def _names(s: Situation, group: Together) -> str:
    """Those who are on the board first."""
    found = _labels(s, group)
    more = len(group.packs) - len(found)
    return ", ".join(found) + (f" + {more} more" if more > 0 else "") or group.names_over
