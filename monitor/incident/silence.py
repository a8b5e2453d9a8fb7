"""Wearers of whom nothing is heard: no signal, no word, overdue, and several silent together.

Several packs that fall silent together are one grouped danger, not many cautions: a collapse and a
fault of the base look the same, and only evidence tells them apart. It tells of each of them, also
of whose air is low by the estimate: they are named first, and it sounds again at one, two, four,
eight of them. Packs that come back do so one after another, so it ends 15 s after it is over.

With no link left there is that evidence; then alarms that begin are held back by design, but never
once the falling estimate says that somebody's air is low, and what was an alarm before the last
link went stays one. Time without a link is not listening time: with one back, each pack's silence
goes on counting from where it stood. Air is breathed in any time: from the instant at which a
reading is shown as an estimate, what the estimate reaches is reached, whoever is to blame for the
silence, until a new reading.
"""

from collections.abc import Iterable

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.alarms.states import State
from monitor.incident.contact import Contact, gap_after_ns
from monitor.incident.deadlines import Due
from monitor.incident.grouping import put
from monitor.incident.picture import Priority
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wear, Wearer

CREW_MIN = 2
"""A crew of whom so many or more are all silent is a crew that nobody hears."""
GROUP_MIN = 3
"""Fewer silent wearers than this may be one crew in a bad corner."""
GROUPS = frozenset({Kind.CREW_SILENT, Kind.SEVERAL_SILENT})
"""Lines of several who are silent."""
_OF_SILENCE = GROUPS | {Kind.NO_SIGNAL}
TOGETHER_NS = 15 * SECOND_NS
"""Silences that began within this of one another began together: three reports at 5 s."""


def review_silence(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    """Tell the engine whether this wearer is silent, and look at the group again."""
    wear = wearer.live_wear
    if wear is not None:
        _watch_air(s, wearer, wear)
    silent = wear is not None and unheard(contact, wear)
    joined = _is_on(contact) and silent and wearer.number not in s.silent
    left = not silent and wearer.number in s.silent
    if contact is not None and _is_on(contact) and silent:
        s.silent.setdefault(wearer.number, contact.silent_since_ns or 0)
    else:
        s.silent.pop(wearer.number, None)
        s.shared.silence_taken.pop(wearer.number, None)
    # Who is heard may be so for a moment; what a person says is for good.
    settled = left and (wear is None or contact is None or not _is_on(contact) or contact.lost)
    _group(s, s.grouped if s.grouped and _still_grouped(s) else _now_grouped(s, wearer.number))
    if s.grouped or s.silent or Key(Kind.SEVERAL_SILENT) in s.engine.by_key:
        worse = joined and not no_link_left(s) and _much_worse(s)
        review_group(s, joined=worse, settled=settled)
    if review_crew_silent(s, wearer.crew):
        _put_all_silent(s)
    _put_silence(s, contact, wearer)


def call_group(s: Situation, members: dict[int, int]) -> None:
    """These fell silent together, by their wearers' numbers, with the time each is silent from."""
    joined = not members.keys() <= s.silent.keys()
    for number, since in members.items():
        s.silent.setdefault(number, since)
    if len(members) < GROUP_MIN or (s.grouped and not joined):
        return
    _group(s, True)
    review_group(s, joined=joined and _much_worse(s))
    _put_all_silent(s)


def _group(s: Situation, grouped: bool) -> None:  # noqa: FBT001 - what is set
    if grouped and not s.grouped:
        s.grouped_ns = s.now
    s.grouped = grouped


def tell_alone(s: Situation) -> None:
    """A line of several is over for good: whoever is still silent of it is told alone."""
    _put_all_silent(s)


def take_silence(s: Situation, number: int, by: str) -> None:
    """The officer has taken this alarm: whoever it names as silent needs no second answer."""
    alarm = s.engine.by_number.get(number)
    if alarm is not None and alarm.key.kind in _OF_SILENCE:
        for wearer in alarm.wearers:
            if wearer in s.silent:
                s.shared.silence_taken[wearer] = (alarm.key.kind, by)


def _put_all_silent(s: Situation) -> None:
    """Tell the engine of everybody who is silent again: crews first, which tell for their own."""
    silent = [s.wearers[number] for number in s.silent]
    for name in dict.fromkeys(wearer.crew for wearer in silent):
        review_crew_silent(s, name)
    for wearer in silent:
        _put_silence(s, s.contact_of(wearer), wearer)


def review_crew_silent(s: Situation, name: str) -> bool:
    """Tell the engine whether a whole crew is silent; answers whether that has changed.

    Of a crew that is in a group the group tells.
    """
    if not name:
        return False
    heard_of = _with_pack(s, name)
    silent = len(heard_of) >= CREW_MIN and all(w.number in s.silent for w in heard_of)
    key = Key(Kind.CREW_SILENT, crew=name)
    before = s.engine.by_key.get(key)
    changed = silent is not (before is not None and before.condition)
    if silent or changed:
        lost = [contact.lost_ns for w in heard_of if (contact := s.contact_of(w))]
        low = low_of(s, (w.number for w in heard_of if w.number in s.silent))
        deaf = bool(lost) and _base_to_blame(s, max(lost)) and not low
        held = _group_tells(s) or deaf
        if not held and (taken_by := _crew_taken_by(s, heard_of)):
            s.engine.let_go(key, s.now, taken_by)
        s.engine.put(
            key,
            s.now,
            condition=silent,
            held=held,
            wearers=tuple(w.number for w in heard_of),
            joined=silent and _more_are_low(s, key, len(low)),
            at_once=not _one_is_heard(s, heard_of),
        )
    return changed


def _one_is_heard(s: Situation, crew: list[Wearer]) -> bool:
    """Whether a crew is not silent for no other reason than that some of it are heard now."""
    others = [c for w in crew if w.number not in s.silent and (c := s.contact_of(w))]
    ages = [s.now - c.heard_ns < gap_after_ns(c.interval_s) for c in others if c.heard_ns]
    return bool(ages) and all(ages) and len(ages) == len(others) < len(crew)


def low_of(s: Situation, numbers: Iterable[int]) -> list[int]:
    """Those of them whose air is low by the estimate."""
    wears = ((number, s.wearers[number].live_wear) for number in numbers)
    return sorted(number for number, wear in wears if wear is not None and wear.projected_low)


def _more_are_low(s: Situation, group: Key, low: int) -> bool:
    """Whether a group is worse for the air of those in it: one is low, or as many again."""
    told = s.shared.low_told.get(group, 0)
    if not low:
        s.shared.low_told.pop(group, None)
    if low < max(1, 2 * told):
        return False
    s.shared.low_told[group] = low
    return True


def _crew_taken_by(s: Situation, crew: list[Wearer]) -> str:
    """Who took a group that named all of a crew, or "": two silences are not yet a crew's."""
    taken = [s.shared.silence_taken.get(w.number, (Kind.NO_SIGNAL, "")) for w in crew]
    return "" if any(kind is Kind.NO_SIGNAL for kind, _ in taken) else taken[0][1]


def _with_pack(s: Situation, name: str) -> list[Wearer]:
    return [w for w in s.crews.get(name, ()) if w.live_wear and _is_on(s.contact_of(w))]


def crew_with_pack(s: Situation, name: str) -> int:
    """How many of a crew under air have a pack that ought to be heard."""
    return len(_with_pack(s, name))


def _crew_tells(s: Situation, wearer: Wearer) -> bool:
    """Whether an alarm of the whole crew stands for this wearer's silence."""
    alarm = s.engine.by_key.get(Key(Kind.CREW_SILENT, crew=wearer.crew)) if wearer.crew else None
    told = alarm is not None and alarm.condition and alarm.listed
    return told and wearer.number in s.silent


def _put_silence(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    wear = wearer.live_wear
    silent = wear is not None and unheard(contact, wear)
    low = wear is not None and wear.projected_low
    overdue = wear is not None and _overdue(wear, silent=silent)
    # What is a danger already is not told as one twice.
    worse = Priority.DANGER if low and not overdue else None
    # Whoever is heard again is in no group, and their own line waits to be taken.
    in_group = wearer.number in s.silent and (_group_tells(s) or _crew_tells(s, wearer))
    deaf = contact is not None and _base_to_blame(s, contact.lost_ns)
    # Its frames come: that, and why they do not count, is an alarm of its own.
    late = contact is not None and contact.comes_late and not (in_group or deaf)
    put(s, Kind.HELD_BACK, wearer, condition=silent and late)
    # So with frames whose numbers went back: the line of the lost counter says to call.
    old = contact is not None and contact.comes_old and not contact.rivals
    # A group names first whose air is low, and sounds for it.
    held = in_group or (not low and (deaf or late or old))
    expected = _is_on(contact)
    if wearer.number in s.shared.silence_taken and not (held or worse):
        by = s.shared.silence_taken[wearer.number][1]
        s.engine.let_go(Key(Kind.NO_SIGNAL, wearer=wearer.number), s.now, by)
    worse_alone = None if held else worse
    put(s, Kind.NO_SIGNAL, wearer, worse_alone, condition=silent and expected, held=held)
    put(s, Kind.NO_WORD, wearer, worse, condition=silent and not expected)
    put(s, Kind.OVERDUE, wearer, condition=overdue)
    gauge = s.engine.by_key.get(Key(Kind.GAUGE, wearer=wearer.number)) if low else None
    if gauge is not None and gauge.aside is not None and gauge.condition:
        # A doubt was put aside while there was air; by the sum there is none now.
        put(s, Kind.GAUGE, wearer, Priority.DANGER, condition=True)


def _overdue(wear: Wear, *, silent: bool) -> bool:
    """Whether the estimate is at its low-air value and no other alarm says so."""
    wear.overdue = wear.projected_low and not wear.low_air and (wear.overdue or not silent)
    return wear.overdue


def _watch_air(s: Situation, wearer: Wearer, wear: Wear) -> None:
    """Keep the deadlines of a wearer whom nobody hears."""
    due = s.word_due_ns(wearer)
    if due is not None:
        s.deadlines.put(max(due, s.now), Due.WORD, wearer.number)
    ages_ns = s.ages_ns(wearer)
    wear.estimate = None
    if ages_ns is None or ages_ns > s.now:
        wear.projected_low = wear.projected_turn = wear.projected_soon = False
        if ages_ns is not None:
            s.deadlines.put(ages_ns, Due.AIR_AGES, wearer.number)
        return
    reading = s.counted_from(wearer, s.contact_of(wearer))
    if reading is not None and wear.breathing is not None:
        wear.estimate = reading, wear.breathing.consumption.record
    low_ns, turn_ns = s.projected_low_due_ns(wearer), s.projected_turn_due_ns(wearer)
    wear.projected_low = low_ns is not None and low_ns <= s.now
    wear.projected_turn = turn_ns is not None and turn_ns <= s.now
    soon_ns = s.projected_soon_due_ns(wearer)
    wear.projected_soon = soon_ns is not None and soon_ns <= s.now
    projected = (
        (low_ns, Due.PROJECTED_LOW),
        (turn_ns, Due.PROJECTED_TURN),
        (soon_ns, Due.TURN_SOON),
    )
    for due, kind in projected:
        if due is not None and due > s.now:
            s.deadlines.put(due, kind, wearer.number)


def unheard(contact: Contact | None, wear: Wear) -> bool:
    """Whether nobody has heard of this wearer for longer than the rules allow."""
    if contact is None or contact.signed_off:
        return wear.word_due
    return contact.lost and not by_voice(contact, wear)


def _is_on(contact: Contact | None) -> bool:
    """Whether there is a pack to be heard; else only the wearer's word counts."""
    return contact is not None and not contact.signed_off


def by_voice(contact: Contact, wear: Wear) -> bool:
    """Whether a reading by voice, since the pack was last heard, stands in for the signal."""
    since = contact.silent_since_ns
    spoke = wear.spoke_ns is not None and (since is None or wear.spoke_ns > since)
    return spoke and not wear.word_due


def no_link_left(s: Situation) -> bool:
    """Evidence that the base itself hears nothing."""
    return bool(s.links) and not any(link.up for link in s.links.values())


def _base_to_blame(s: Situation, since_ns: int) -> bool:
    """Whether what began at ``since_ns`` may be no more than a base that hears nothing."""
    return s.link_gone_ns is not None and since_ns >= s.link_gone_ns


# ---------------------------------------------------------------- several together


def _now_grouped(s: Situation, number: int) -> bool:
    """Whether this wearer's silence makes enough that began together."""
    since = s.silent.get(number)
    if since is None:
        return False
    together = sum(abs(other - since) <= TOGETHER_NS for other in s.silent.values())
    return together >= GROUP_MIN or everybody_silent(s)


def _still_grouped(s: Situation) -> bool:
    return len(s.silent) >= GROUP_MIN or everybody_silent(s)


def with_pack_on(s: Situation) -> list[Wearer]:
    """Everybody under air whose pack ought to be heard."""
    return [w for w in s.wearers.values() if w.live_wear and _is_on(s.contact_of(w))]


def everybody_silent(s: Situation) -> bool:
    """Whether nobody under air is heard who has a pack on; of one crew of two its line tells."""
    if len(s.silent) < CREW_MIN:
        return False
    on = with_pack_on(s)
    several = len(on) >= GROUP_MIN or len({w.crew or w.number for w in on}) >= CREW_MIN
    return several and all(w.number in s.silent for w in on)


def _group_tells(s: Situation) -> bool:
    """Whether the line of several stands for all who are silent; also while it ends."""
    group = s.engine.by_key.get(Key(Kind.SEVERAL_SILENT))
    return group is not None and group.condition and group.state is not State.SUPPRESSED


def _much_worse(s: Situation) -> bool:
    """Whether as many have joined a group since it was taken as are still silent of those then.

    So a group that grows is told again when it has doubled: 60 packs, one by one, in five times.
    """
    group = s.engine.by_key.get(Key(Kind.SEVERAL_SILENT))
    if group is None:
        return True
    still = sum(number in group.known for number in s.silent)
    return len(s.silent) - still >= still


def review_group(s: Situation, *, joined: bool = False, settled: bool = False) -> None:
    """Tell the engine of the group; ``joined``: it has become so much bigger that it waits anew.

    ``settled``: that it is smaller is for good; else it counts for a while as it was.
    """
    key, told = Key(Kind.SEVERAL_SILENT), _group_tells(s)
    low = low_of(s, s.silent)
    nobody_left = s.grouped and everybody_silent(s) and not no_link_left(s)
    worse = s.grouped and (_more_are_low(s, key, len(low)) or (nobody_left and not s.shared.nobody))
    s.shared.nobody = s.grouped and (s.shared.nobody or nobody_left)
    s.engine.put(
        key,
        s.now,
        condition=s.grouped,
        held=_base_to_blame(s, s.grouped_ns) and not low,
        wearers=s.silent,
        joined=joined or worse,
        at_once=settled or not s.silent,
    )
    if _group_tells(s) != told:
        _put_all_silent(s)
