"""What happens when a deadline comes: it is asked whether it is really due, then acts."""

from collections.abc import Callable

from monitor.incident.alarms.engine import INSIST_AFTER_NS
from monitor.incident.conditions import (
    review_base,
    review_contact,
    review_wearer,
    watch_insisting,
)
from monitor.incident.contact import DOUBT_NS, gap_after_ns
from monitor.incident.deadlines import Due
from monitor.incident.facts import FOREIGN_QUIET_NS, LOST_QUIET_NS
from monitor.incident.fleet import look_at_fleet
from monitor.incident.grouping import ask_anew, asks_anew_ns
from monitor.incident.orders import alarming
from monitor.incident.record import briefs
from monitor.incident.silence import tell_alone
from monitor.incident.situation import Situation
from monitor.incident.staffing import alone_due_ns, review_alone, review_standby, standby_due_ns
from monitor.incident.together import look_at_together, together_due_ns
from monitor.incident.turning import turn_back_late_ns
from monitor.incident.unjoined import still_due_ns

_OF_ESTIMATE = frozenset({Due.PROJECTED_LOW, Due.PROJECTED_TURN, Due.TURN_SOON})
"""Put in anew whenever a reading has become an estimate, and for nothing before."""


def fire_until(s: Situation, until_ns: int) -> None:
    """Fire every deadline at or before ``until_ns``, each at its own time, in order."""
    while (entry := s.deadlines.pop(until_ns)) is not None:
        t, kind, subject = entry
        if kind is Due.SILENT and (least := s.least_silence_ns(subject)) > t:
            s.deadlines.put(least, kind, subject)
            continue
        if kind in _OF_ESTIMATE:
            ages = _air_ages_ns(s, subject)
            if ages is not None and ages > t:
                # A new reading has come: the estimate begins anew once that ages.
                s.deadlines.put(ages, Due.AIR_AGES, subject)
                continue
        due = _DUE[kind](s, subject)
        if due is None:
            continue
        if due > t:
            if kind is Due.SILENT:
                due = s.look_at_silence_ns(s.contacts[subject], due, t)
            s.deadlines.put(due, kind, subject)
            continue
        s.now = max(s.now, t)
        _FIRE[kind](s, subject)


def _air_ages_ns(s: Situation, subject: int) -> int | None:
    wearer = s.wearers[subject]
    return s.ages_ns(wearer) if wearer.live_wear else None


def _projected_due_ns(s: Situation, subject: int) -> int | None:
    return _once_it_ages(s, subject, s.projected_low_due_ns(s.wearers[subject]))


def _projected_turn_due_ns(s: Situation, subject: int) -> int | None:
    return _once_it_ages(s, subject, s.projected_turn_due_ns(s.wearers[subject]))


def _turn_soon_due_ns(s: Situation, subject: int) -> int | None:
    return _once_it_ages(s, subject, s.projected_soon_due_ns(s.wearers[subject]))


def _once_it_ages(s: Situation, subject: int, reached_ns: int | None) -> int | None:
    """A mark counts only once the reading is an estimate: a new one puts it off."""
    since = _air_ages_ns(s, subject)
    return None if since is None or reached_ns is None else max(since, reached_ns)


def _foreign_due_ns(s: Situation, _subject: int) -> int | None:
    return None if s.foreign_ns is None else s.foreign_ns + FOREIGN_QUIET_NS


def _lost_due_ns(s: Situation, _subject: int) -> int | None:
    return None if s.listening.lost_ns is None else s.listening.lost_ns + LOST_QUIET_NS


def _doubt_due_ns(s: Situation, subject: int) -> int | None:
    contact = s.contacts.get(subject)
    if contact is None:
        return None  # it has made room
    last = [t for t in (contact.unproven_ns, contact.distress_doubt_ns) if t is not None]
    if contact.clash and not contact.clash_now:
        last.append(contact.clash_ns)
    last += contact.starts_ns[-1:]
    dues = [t + DOUBT_NS for t in last]
    if contact.comes_old:
        dues.append(contact.old_ns + gap_after_ns(contact.interval_s))
    if contact.held_ns is not None:
        dues.append(contact.held_ns + gap_after_ns(contact.interval_s))
    return min(dues, default=None)


def _silent(s: Situation, subject: int) -> None:
    contact = s.contacts[subject]
    contact.lose(s.now, s.link_rule(contact))
    review_contact(s, contact)


def _still_and_silent(s: Situation, subject: int) -> None:
    contact = s.contacts[subject]
    contact.still_and_silent = True
    review_contact(s, contact)


def _word(s: Situation, subject: int) -> None:
    wearer = s.wearers[subject]
    assert wearer.wear is not None, "only a wear that goes on has a word due"
    wearer.wear.word_due = True
    review_wearer(s, wearer)


def _look_again(s: Situation, subject: int) -> None:
    review_wearer(s, s.wearers[subject])


def _foreign_over(s: Situation, _subject: int) -> None:
    s.foreign_ns = None
    review_base(s)


def _lost_over(s: Situation, _subject: int) -> None:
    s.listening.lost_ns = None
    review_base(s)


def _insist(s: Situation, subject: int) -> None:
    s.engine.insist(subject, s.now)
    s.deadlines.put(s.now + INSIST_AFTER_NS, Due.INSIST, subject)


def _aside_over(s: Situation, subject: int) -> None:
    s.engine.take_back(subject, s.now)
    watch_insisting(s)


def _look_at_together(s: Situation, subject: int) -> None:
    look_at_together(s, subject)
    watch_insisting(s)


def _ask_anew(s: Situation, subject: int) -> None:
    ask_anew(s, subject)
    watch_insisting(s)


def _over(s: Situation, subject: int) -> None:
    s.engine.end(subject, s.now)
    tell_alone(s)
    watch_insisting(s)


def _orders(s: Situation, _subject: int) -> None:
    alarming.review_alarms(s)
    watch_insisting(s)


def _forget_doubt(s: Situation, subject: int) -> None:
    contact = s.contacts[subject]
    quiet_since = s.now - DOUBT_NS
    if contact.unproven_ns is not None and contact.unproven_ns <= quiet_since:
        contact.unproven_ns = None
        contact.unproven_since_ns = None
        contact.unproven_long = False
    if contact.distress_doubt_ns is not None and contact.distress_doubt_ns <= quiet_since:
        contact.distress_doubt_ns = None
    if contact.clash and not contact.clash_now and contact.clash_ns <= quiet_since:
        contact.clash = contact.rivals = False
    if contact.old_ns + gap_after_ns(contact.interval_s) <= s.now:
        contact.comes_old = False
    if contact.starts_ns and contact.starts_ns[-1] <= quiet_since:
        contact.starts_ns = []
        contact.restarting = False
    held_ns = contact.held_ns
    if held_ns is not None and held_ns + gap_after_ns(contact.interval_s) <= s.now:
        contact.held_ns = None
        contact.held_run = 0
    due = _doubt_due_ns(s, subject)
    if due is not None:
        s.deadlines.put(due, Due.DOUBT_OVER, subject)
    review_contact(s, contact)


_DUE: dict[Due, Callable[[Situation, int], int | None]] = {
    Due.SILENT: lambda s, subject: s.lost_due_ns(s.contacts[subject]),
    Due.STILL_AND_SILENT: lambda s, subject: s.still_silent_due_ns(s.contacts[subject]),
    Due.DOUBT_OVER: _doubt_due_ns,
    Due.WORD: lambda s, subject: s.word_due_ns(s.wearers[subject]),
    Due.AIR_AGES: _air_ages_ns,
    Due.PROJECTED_LOW: _projected_due_ns,
    Due.PROJECTED_TURN: _projected_turn_due_ns,
    Due.TURN_SOON: _turn_soon_due_ns,
    Due.TURN_BACK_LATE: lambda s, subject: turn_back_late_ns(s, s.wearers[subject]),
    Due.FOREIGN_OVER: _foreign_due_ns,
    Due.LOST_OVER: _lost_due_ns,
    Due.INSIST: lambda s, subject: s.engine.insist_at_ns(subject),
    Due.ASIDE_OVER: lambda s, subject: s.engine.aside_until_ns(subject),
    Due.UNJOINED_STILL: lambda s, subject: still_due_ns(s.contacts[subject]),
    Due.ALONE: lambda s, subject: alone_due_ns(s.wearers[subject]),
    Due.STANDBY: lambda s, _subject: standby_due_ns(s),
    Due.PROMPT: lambda s, subject: s.wearers[subject].prompt_ns,
    Due.ORDER: alarming.order_due_ns,
    Due.ROLL_CALL: lambda s, _subject: alarming.roll_next_ns(s),
    Due.RELIEF: lambda s, _subject: briefs.relief_due_ns(s),
    Due.FLEET: lambda s, _subject: s.fleet.due_ns,
    Due.OFF_DELAY: lambda s, subject: s.engine.ends_at_ns(subject),
    Due.TOGETHER: together_due_ns,
    Due.OUT_BREATHES: lambda s, subject: s.wearers[subject].out_due_ns,
    Due.ALL_NEW: asks_anew_ns,
}
"""When this is really due; None: no more."""

_FIRE: dict[Due, Callable[[Situation, int], None]] = {
    Due.SILENT: _silent,
    Due.STILL_AND_SILENT: _still_and_silent,
    Due.DOUBT_OVER: _forget_doubt,
    Due.WORD: _word,
    Due.AIR_AGES: _look_again,
    Due.PROJECTED_LOW: _look_again,
    Due.PROJECTED_TURN: _look_again,
    Due.TURN_SOON: _look_again,
    Due.TURN_BACK_LATE: _look_again,
    Due.FOREIGN_OVER: _foreign_over,
    Due.LOST_OVER: _lost_over,
    Due.INSIST: _insist,
    Due.ASIDE_OVER: _aside_over,
    Due.UNJOINED_STILL: lambda s, subject: review_contact(s, s.contacts[subject]),
    Due.ALONE: lambda s, subject: review_alone(s, s.wearers[subject]),
    Due.STANDBY: lambda s, _subject: review_standby(s),
    Due.PROMPT: _look_again,
    Due.ORDER: _orders,
    Due.ROLL_CALL: _orders,
    Due.RELIEF: lambda s, _subject: briefs.review_reliefs(s),
    Due.FLEET: lambda s, _subject: look_at_fleet(s),
    Due.OFF_DELAY: _over,
    Due.TOGETHER: _look_at_together,
    Due.OUT_BREATHES: _look_again,
    Due.ALL_NEW: _ask_anew,
}
