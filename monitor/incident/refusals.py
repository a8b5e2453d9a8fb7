"""Why an act cannot be taken, in one plain sentence.

The recorder asks before it puts an act in order, and the fold asks again when it gets there, so an
act that became impossible in between changes nothing. An act on several wearers is taken for all
of them or for none.
"""

from collections.abc import Callable

from monitor.incident import events, two_gauges
from monitor.incident.alarms.states import State
from monitor.incident.orders import giving
from monitor.incident.picture import Phase, Priority
from monitor.incident.put_aside import why_not_put_aside, why_not_take_back
from monitor.incident.record import briefs, sets
from monitor.incident.record import keeping as record
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

BEFORE_CONNECT = frozenset({Phase.LISTED, Phase.CHECKED_IN, Phase.OFF_AIR})


def would_refuse(s: Situation, act: events.Act, t: int) -> str | None:
    """Why ``act`` cannot be taken at ``t``; None if it can."""
    if s.closed:
        return "The incident is closed."
    at_ns = getattr(act, "at_ns", None)
    if at_ns is not None and at_ns > t:
        return "That time has not come yet."
    if at_ns is not None and at_ns < 0:
        return "That time is before the incident was opened."
    for number in named(act):
        if number not in s.wearers:
            return f"There is no wearer {number} on the board."
    for number in named(act):
        moved = s.wearers[number].phase is Phase.MOVED
        if moved and not isinstance(act, record.MOVED_MAY):
            return briefs.why_moved(s.wearers[number])
    check = _CHECKS.get(type(act))
    return None if check is None else check(s, act, t)


def named(act: events.Act) -> tuple[int, ...]:
    """The wearers an act is about, who must be on the board."""
    if isinstance(act, events.ListWearer):
        return ()
    single = getattr(act, "wearer", None)
    if single is not None:
        return (single,)
    return getattr(act, "wearers", ())


def _list_wearer(s: Situation, act: events.ListWearer, _t: int) -> str | None:
    there = s.wearers.get(act.wearer)
    return None if there is None else f"Place {act.wearer} is taken by {there.label}."


def _join_pack(s: Situation, act: events.JoinPack, _t: int) -> str | None:
    fault = sets.why_not_use(s, act)
    if fault is not None or act.pack is None:
        return fault
    contact = s.contacts.get(act.pack)
    other = s.wearer_of(contact) if contact else None
    if other is not None and other.number != act.wearer:
        return f"Pack {act.pack} is joined to {other.label}."
    return None


def _first(
    s: Situation, numbers: tuple[int, ...], why: Callable[[Wearer], str | None]
) -> str | None:
    """The first reason among several wearers."""
    reasons = (why(s.wearers[number]) for number in numbers)
    return next((reason for reason in reasons if reason is not None), None)


def _too_early(wearer: Wearer, at_ns: int | None) -> str | None:
    """A time given for a step cannot lie before the step that it follows."""
    if at_ns is not None and at_ns < wearer.phase_ns:
        return f"{wearer.label}: that is before {wearer.phase.value} was noted."
    return None


def _connect(s: Situation, act: events.Connect, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        if wearer.phase is Phase.LISTED and not wearer.set_known:
            return f"{wearer.label} is not checked in: join a pack, or none, first."
        if wearer.phase not in BEFORE_CONNECT:
            return f"{wearer.label} is on air already."
        off_ns = wearer.wear.off_ns if wearer.wear else None
        if act.at_ns is not None and off_ns is not None and act.at_ns < off_ns:
            return f"{wearer.label}: that is before {Phase.OFF_AIR.value} was noted."
        return None

    return _first(s, act.wearers, why)


def _enter(s: Situation, act: events.Enter, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        if wearer.phase is Phase.ENTERED:
            return f"{wearer.label} has entered already."
        if not wearer.under_air:
            return f"{wearer.label} is not connected to air."
        return _too_early(wearer, act.at_ns)

    return _first(s, act.wearers, why)


def _come_out(s: Situation, act: events.ComeOut, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        if wearer.phase is not Phase.ENTERED:
            return f"{wearer.label} has not entered."
        return _too_early(wearer, act.at_ns)

    return _first(s, act.wearers, why)


def _off_air(s: Situation, act: events.OffAir, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        if wearer.phase is Phase.ENTERED:
            return f"{wearer.label} has not come out yet."
        if not wearer.under_air:
            return f"{wearer.label} is not on air."
        return _too_early(wearer, act.at_ns)

    return _first(s, act.wearers, why)


def _inside(s: Situation, act: events.ReachObjective | events.StartBack, _t: int) -> str | None:
    """Steps of somebody who is in the hazard, and cannot be earlier than the entry."""

    def why(wearer: Wearer) -> str | None:
        if wearer.phase is not Phase.ENTERED:
            return f"{wearer.label} has not entered."
        return _too_early(wearer, act.at_ns)

    return _first(s, act.wearers, why)


def _sent_on(s: Situation, act: events.NewObjective, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        return None if wearer.phase is Phase.ENTERED else f"{wearer.label} has not entered."

    return _first(s, act.wearers, why)


def _augment_supply(s: Situation, act: events.AugmentSupply, _t: int) -> str | None:
    def why(wearer: Wearer) -> str | None:
        wear = wearer.live_wear
        if wear is None:
            return f"{wearer.label} is not on air."
        if wear.augmented is act.on:
            supply = "another supply" if act.on else "the own cylinder"
            return f"{wearer.label} is on {supply} already."
        return None

    return _first(s, act.wearers, why)


def _spoken_reading(
    s: Situation, act: events.SpokenReading | events.AmendStart, _t: int
) -> str | None:
    def why(wearer: Wearer) -> str | None:
        return None if wearer.under_air else f"{wearer.label} is not on air."

    return _first(s, act.wearers, why)


def _acknowledge(s: Situation, act: events.Acknowledge, _t: int) -> str | None:
    for number in act.alarms:
        alarm = s.engine.by_number.get(number)
        if alarm is None:
            return f"There is no alarm {number} any more."
        if not alarm.waits:
            return f"Alarm {number} does not wait to be taken."
        if act.seen_ns is not None and alarm.waiting_ns > act.seen_ns:
            return f"Alarm {number} came again after what was on the screen."
        if len(act.alarms) > 1 and alarm.priority is Priority.DANGER:
            return "A danger is taken alone."
    if len(set(act.alarms)) < len(act.alarms):
        return "One alarm is named twice."
    return None


def _reset(s: Situation, act: events.Reset, _t: int) -> str | None:
    alarm = s.engine.by_number.get(act.alarm)
    if alarm is None:
        return f"There is no alarm {act.alarm} any more."
    if alarm.condition:
        return f"Alarm {act.alarm} still holds."
    if alarm.state is State.LATCHED_UNACKNOWLEDGED:
        return f"Alarm {act.alarm} has not been taken yet."
    if alarm.state is not State.LATCHED_ACKNOWLEDGED:
        return f"Alarm {act.alarm} needs no reset."
    return None


def _silence(_s: Situation, act: events.Silence, _t: int) -> str | None:
    if act.seconds > events.SILENCE_S_MAX:
        return f"Sound is silenced for {events.SILENCE_S_MAX} s at the most."
    return None


def _enrol_again(s: Situation, act: events.EnrolAgain, _t: int) -> str | None:
    contact = s.contacts.get(act.pack)
    if contact is None or not contact.clash:
        return f"The numbers of pack {act.pack} did not go back."
    return None


def _close(s: Situation, act: events.Close, _t: int) -> str | None:
    if act.override.strip():
        return None
    under_air = [wearer.label for wearer in s.wearers.values() if wearer.under_air]
    if under_air:
        return f"Still under air: {', '.join(under_air[:4])}. Closing now needs a reason."
    return giving.why_not_end(s)


# Each check is only ever given the kind of act that it stands beside.
_CHECKS: dict[type, Callable[..., str | None]] = {
    events.ListWearer: _list_wearer,
    events.JoinPack: _join_pack,
    events.Connect: _connect,
    events.Enter: _enter,
    events.ComeOut: _come_out,
    events.OffAir: _off_air,
    events.SpokenReading: _spoken_reading,
    events.AmendStart: _spoken_reading,
    events.TrustGauge: two_gauges.why_not_trust,
    events.ReachObjective: _inside,
    events.StartBack: _inside,
    events.NewObjective: _sent_on,
    events.AugmentSupply: _augment_supply,
    **giving.CHECKS,
    **record.CHECKS,
    events.PutAside: why_not_put_aside,
    events.TakeBack: why_not_take_back,
    events.Acknowledge: _acknowledge,
    events.Reset: _reset,
    events.Silence: _silence,
    events.EnrolAgain: _enrol_again,
    events.Close: _close,
}
