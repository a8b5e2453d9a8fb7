"""What happens when a deadline comes: it is asked whether it is really due, then acts."""

from monitor.incident.airing import turn_back_late_ns
from monitor.incident.alarms.engine import INSIST_AFTER_NS
from monitor.incident.conditions import (
    review_base,
    review_contact,
    review_wearer,
    watch_insisting,
)
from monitor.incident.contact import DOUBT_NS
from monitor.incident.deadlines import Due
from monitor.incident.facts import FOREIGN_QUIET_NS
from monitor.incident.link_rule import LEAST_NS
from monitor.incident.silence import air_ages
from monitor.incident.situation import Situation


def fire_until(s: Situation, until_ns: int) -> None:
    """Fire every deadline at or before ``until_ns``, each at its own time, in order."""
    while (entry := s.deadlines.pop(until_ns)) is not None:
        t, kind, subject = entry
        due = _due_ns(s, kind, subject)
        if due is None:
            continue
        if due > t:
            # With each frame heard the limit of silence may be shorter, but never so short that
            # its deadline came before the least limit from now: none need be put in anew.
            again = min(due, t + LEAST_NS) if kind is Due.SILENT else due
            s.deadlines.put(again, kind, subject)
            continue
        s.now = max(s.now, t)
        _fire(s, kind, subject)


def _due_ns(s: Situation, kind: Due, subject: int) -> int | None:
    """When this is really due; None: no more."""
    if kind is Due.SILENT:
        return s.lost_due_ns(s.contacts[subject])
    if kind is Due.STILL_AND_SILENT:
        return s.still_silent_due_ns(s.contacts[subject])
    if kind is Due.WORD:
        return s.word_due_ns(s.wearers[subject])
    if kind is Due.INSIST:
        return s.engine.insist_at_ns(subject)
    if kind is Due.ASIDE_OVER:
        return s.engine.aside_until_ns(subject)
    if kind is Due.FOREIGN_OVER:
        return None if s.foreign_ns is None else s.foreign_ns + FOREIGN_QUIET_NS
    if kind is Due.PROJECTED_LOW:
        return _projected_due_ns(s, subject)
    if kind is Due.PROJECTED_TURN:
        return _projected_turn_due_ns(s, subject)
    if kind is Due.TURN_BACK_LATE:
        return turn_back_late_ns(s, s.wearers[subject])
    return _doubt_due_ns(s, subject)


def _projected_due_ns(s: Situation, subject: int) -> int | None:
    wearer = s.wearers[subject]
    wear = wearer.live_wear
    if wear is None or wear.projected_low or not air_ages(s.contact_of(wearer), wear):
        return None
    return s.projected_low_due_ns(wearer)


def _projected_turn_due_ns(s: Situation, subject: int) -> int | None:
    wearer = s.wearers[subject]
    wear = wearer.live_wear
    if wear is None or wear.projected_turn or not air_ages(s.contact_of(wearer), wear):
        return None
    return s.projected_turn_due_ns(wearer)


def _doubt_due_ns(s: Situation, subject: int) -> int | None:
    contact = s.contacts[subject]
    last = [t for t in (contact.unproven_ns, contact.distress_doubt_ns) if t is not None]
    return min(last) + DOUBT_NS if last else None


def _fire(s: Situation, kind: Due, subject: int) -> None:
    if kind is Due.SILENT:
        contact = s.contacts[subject]
        contact.lost_by = s.link_rule(contact)
        contact.lost = True
        contact.lost_ns = s.now
        review_contact(s, contact)
    elif kind is Due.STILL_AND_SILENT:
        contact = s.contacts[subject]
        contact.still_and_silent = True
        review_contact(s, contact)
    elif kind is Due.DOUBT_OVER:
        _forget_doubt(s, subject)
    elif kind is Due.WORD:
        wearer = s.wearers[subject]
        assert wearer.wear is not None, "only a wear that goes on has a word due"
        wearer.wear.word_due = True
        review_wearer(s, wearer)
    elif kind in (Due.PROJECTED_LOW, Due.PROJECTED_TURN, Due.TURN_BACK_LATE):
        review_wearer(s, s.wearers[subject])
    elif kind is Due.FOREIGN_OVER:
        s.foreign_ns = None
        review_base(s)
    elif kind is Due.ASIDE_OVER:
        s.engine.take_back(subject, s.now)
        watch_insisting(s)
    else:
        s.engine.insist(subject, s.now)
        s.deadlines.put(s.now + INSIST_AFTER_NS, Due.INSIST, subject)


def _forget_doubt(s: Situation, subject: int) -> None:
    contact = s.contacts[subject]
    quiet_since = s.now - DOUBT_NS
    if contact.unproven_ns is not None and contact.unproven_ns <= quiet_since:
        contact.unproven_ns = None
        contact.unproven_since_ns = None
        contact.unproven_long = False
    if contact.distress_doubt_ns is not None and contact.distress_doubt_ns <= quiet_since:
        contact.distress_doubt_ns = None
    due = _doubt_due_ns(s, subject)
    if due is not None:
        s.deadlines.put(due, Due.DOUBT_OVER, subject)
    review_contact(s, contact)
