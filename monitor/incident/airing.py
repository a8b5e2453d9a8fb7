"""The air of the wearers within the incident: readings taken in, alarms told.

What they say of turning back is reckoned in ``turning``.
"""

from monitor.incident import starting, wording
from monitor.incident.air.breathing import Breathing
from monitor.incident.air.gauge import GaugeFault, is_outside
from monitor.incident.air.shown import Reading
from monitor.incident.air.start import StartFrom
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.contact import Contact
from monitor.incident.grouping import put
from monitor.incident.situation import Situation
from monitor.incident.turning import (
    FLAG_UNDER_BAR,
    flag_over_bar,
    look_at_rate,
    review_crew,
    set_thresholds,
)
from monitor.incident.wearer import Wear, Wearer
from protocol.packets import Motion

_ASSUMED = StartFrom.ASSUMED


# ---------------------------------------------------------------- readings in


def begin_wear(s: Situation, wearer: Wearer, wear: Wear, typed_bar: float | None) -> None:
    """The clocks run: begin to count this wearer's air. ``typed_bar``: as told at connecting."""
    contact = s.contact_of(wearer)
    cylinder = s.cylinder(wearer, contact)
    wear.breathing = Breathing(wear.connected_ns, cylinder, s.procedure.gauge_step_bar)
    told = contact.reading() if contact else None
    if told is not None and not is_outside(told.bar, cylinder.rated_bar):
        wear.breathing.begin_at(told)
    elif told is not None:
        wear.breathing.fault = GaugeFault.OUTSIDE
    starting.begin(s, wearer, wear, typed_bar)


def end_wear(wearer: Wearer, wear: Wear) -> None:
    """Off air: what this wear used sharpens the next one's forecast."""
    if wear.breathing is not None:
        wearer.remember(wear.breathing.consumption.sums[:2])


def breathe(s: Situation, contact: Contact, wear: Wear | None) -> bool:
    """Take the pressure that this pack has just told; tells whether the wearer needs a review.

    ``wear``: who has the pack breathes from it. None: nobody has it yet, or has noted that somebody
    breathes from it; it is kept for then.
    """
    report = contact.report
    if report is None or report.pressure_dbar is None:
        return False
    breathing = None if wear is None else wear.breathing
    if wear is None or breathing is None:
        contact.at_door(report.pressure_dbar, s.now)
        return False
    if wear.by_voice:
        return False
    news = breathing.take(
        s.now,
        report.pressure_dbar / 10,
        contact.gas_temperature_c,
        motion=report.motion,
        told=True,
    )
    if news or wear.start_from is _ASSUMED:
        return True
    dbar = report.pressure_dbar
    if dbar <= contact.look_at_rate_dbar and look_at_rate(s, contact, wear, dbar):
        return True
    return wear.estimate is not None and _moves_estimate(s, contact, breathing, wear.estimate)


def _moves_estimate(
    s: Situation, contact: Contact, breathing: Breathing, estimate: tuple[Reading, bytes]
) -> bool:
    """Whether a frame ends an estimate, or moves the instants at which it reaches anything.

    One that falls from a word goes by what the pack has told since; a gauge that is stuck moves
    nothing, however often it tells the same.
    """
    reading, counted = estimate
    if breathing.consumption.record != counted:
        return True
    return s.counted_from(s.wearers[contact.wearer], contact) != reading


def breathe_spoken(s: Situation, wearer: Wearer, spoken: Reading) -> None:
    """Take a reading by voice into the count, where no pack tells the pressure."""
    wear = wearer.live_wear
    contact = s.contact_of(wearer)
    told = contact is not None and not contact.lost and not contact.signed_off
    told = told and contact is not None and contact.pressure_dbar is not None
    if wear is not None and wear.breathing is not None and (wear.by_voice or not told):
        wear.breathing.take(spoken.t, spoken.bar, None, motion=Motion.UNKNOWN, told=False)


# ---------------------------------------------------------------- review


def review_air(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    """Tell the engine what the readings of this wearer say, and reckon the crew's marks."""
    wear = wearer.live_wear
    leaking = doubt = settled = False
    if wear is not None and wear.breathing is not None:
        breathing = wear.breathing
        breathing.fit(s.cylinder(wearer, contact), s.procedure.gauge_step_bar)
        breathing.own = s.own_supply(wearer, contact)
        starting.review(s, wearer, wear, contact)
        wear.gauge_doubt = _doubt(s, wearer, wear, contact)
        doubt = bool(wear.gauge_doubt)
        settled = wear.doubt_settled
        wear.doubt_settled = wear.gauge_doubt == wear.voice_doubt if doubt else settled
        leaking = breathing.leaking
    put(s, Kind.LOSS_OF_PRESSURE, wearer, condition=leaking)
    put(s, Kind.GAUGE, wearer, condition=doubt, at_once=settled)
    put(s, Kind.FILL_LOW, wearer, condition=_fill_is_low(s, contact, wearer))
    review_crew(s, wearer)
    if contact is not None:
        set_thresholds(s, contact, wearer, wear)


def _doubt(s: Situation, wearer: Wearer, wear: Wear, contact: Contact | None) -> str:
    """Why the pressure shown may not be so, in words; empty: nothing speaks against it."""
    if (aside := _used_aside(s, wearer, wear, contact)) is not None:
        return aside
    if contact is None or contact.report is None or contact.signed_off or wear.by_voice:
        return wear.voice_doubt
    breathing = wear.breathing
    if contact.report.pressure_dbar is None:
        return wording.GAUGE_UNREADABLE
    if breathing is not None and breathing.fault is not None:
        return wording.GAUGE_FAULTS[breathing.fault]
    return wear.voice_doubt or _flag_doubt(s, wearer, contact)


def _used_aside(s: Situation, wearer: Wearer, wear: Wear, contact: Contact | None) -> str | None:
    """On another supply the own gauge rests; one that falls on is breathed from, or leaks."""
    reading, before_bar = s.reading(wearer, contact), wear.augmented_bar
    if reading is None or before_bar is None or wear.breathing is None:
        return None
    bar = wear.breathing.without_one_fall(reading.bar)
    if bar > before_bar - s.procedure.reading_tolerance_bar:
        return None
    return wording.used_aside(before_bar, s.unit(wearer))


def _flag_doubt(s: Situation, wearer: Wearer, contact: Contact) -> str:
    """The set's own warning against its own value, where it tells one."""
    told, report = contact.equipment, contact.report
    if told is None or not told.low_air_dbar or report is None or report.pressure_dbar is None:
        return ""
    low = told.low_air_dbar / 10
    bar = report.pressure_dbar / 10
    over = flag_over_bar(s, s.cylinder(wearer, contact))
    if report.low_air and bar > low + over:
        return wording.flag_early(bar, low, s.unit(wearer))
    if not report.low_air and bar < low - FLAG_UNDER_BAR:
        return wording.flag_missing(bar, low, s.unit(wearer))
    return ""


def _fill_is_low(s: Situation, contact: Contact | None, wearer: Wearer) -> bool:
    reading = s.reading(wearer, contact)
    rated = s.cylinder(wearer, contact).rated_bar
    least = s.procedure.least_fill_fraction
    low = wearer.live_wear is not None and wearer.live_wear.low_air
    if reading is None or rated is None or least is None or low:
        return False
    return reading.bar < least * rated
