"""Start-of-use checks: what the packets say of a set, what the officer ticks.

They tell, and never block: the decision is the officer's, and an entry that is happening is noted
whatever is open. The list is common practice; the fill comes from the procedure.
"""

from monitor.incident import units
from monitor.incident.contact import Contact
from monitor.incident.picture import CheckLine, ChecksView
from monitor.incident.record.events import CheckName, TickCheck
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer
from protocol.packets import CheckResult

Found = tuple[bool | None, str]
"""Passed, failed, or nothing is known (None); what it goes by."""
UNKNOWN: Found = (None, "")


def tick_check(s: Situation, act: TickCheck) -> None:
    """Note it; the last word on a check counts."""
    s.wearers[act.wearer].ticked[act.check] = (act.passed, act.remark)


def checks_of(s: Situation, wearer: Wearer) -> ChecksView:
    """Every check of this wearer's set, in order; what a hand has ticked goes first."""
    contact = s.contact_of(wearer)
    found: dict[CheckName, Found] = {}
    if contact is not None:
        found["self-test"] = _result(contact, "self_test")
    found["warnings"] = _warnings(contact)
    found["gauge agrees"] = _gauge(s, wearer, contact)
    if s.procedure.least_fill_fraction is not None:
        found["full"] = _full(s, wearer, contact)
    if contact is not None:
        found["battery"] = _battery(s, contact)
        found["link"] = _link(contact)
    found["low-air value"] = _low_air(s, wearer, contact)
    lines = tuple(_line(check, told, wearer) for check, told in found.items())
    return ChecksView(wearer.number, lines, all(x.state in {"passed", "by hand"} for x in lines))


def _line(check: CheckName, told: Found, wearer: Wearer) -> CheckLine:
    passed, words = told
    if check in wearer.ticked:
        by_hand, remark = wearer.ticked[check]
        return CheckLine(check, "by hand" if by_hand else "failed", _both(remark, words))
    if passed is None:
        return CheckLine(check, "open", words)
    return CheckLine(check, "passed" if passed else "failed", words)


def _both(remark: str, words: str) -> str:
    return "; ".join(filter(None, (remark, words)))


def _result(contact: Contact, name: str) -> Found:
    """What the pack says of one of its own tests."""
    result = getattr(contact.report, name, CheckResult.NOT_RUN)
    return UNKNOWN if result is CheckResult.NOT_RUN else (result is CheckResult.PASSED, "")


def _warnings(contact: Contact | None) -> Found:
    """Both warnings tried: of low air and of motion."""
    if contact is None:
        return UNKNOWN
    found = {
        "low air": _result(contact, "air_warning_test")[0],
        "motion": _result(contact, "motion_warning_test")[0],
    }
    failed = [f"{name} not passed" for name, passed in found.items() if passed is False]
    missing = [f"{name} not tried" for name, passed in found.items() if passed is None]
    passed = False if failed else None if missing else True
    return passed, ", ".join((*failed, *missing))


def _gauge(s: Situation, wearer: Wearer, contact: Contact | None) -> Found:
    """The pressure told at connecting against telemetry, within the procedure's tolerance."""
    if contact is None:
        return UNKNOWN
    wear = wearer.live_wear
    if wear is None or wear.gauge_bar is None or contact.pressure_dbar is None:
        return None, "what does the gauge read?"
    unit = s.unit(wearer)
    spoken, told = wear.gauge_bar
    agrees = abs(spoken - told) <= s.procedure.reading_tolerance_bar
    words = f"gauge {units.left(spoken, unit)}, pack {units.left(told, unit)} {unit}"
    return agrees, words


def _full(s: Situation, wearer: Wearer, contact: Contact | None) -> Found:
    reading = s.reading(wearer, contact)
    rated = s.cylinder(wearer, contact).rated_bar
    least = s.procedure.least_fill_fraction
    if reading is None or rated is None or least is None:
        return UNKNOWN
    unit = s.unit(wearer)
    words = (
        f"{units.left(reading.bar, unit)} of {units.left(rated, unit)} {unit}, "
        f"at least {units.turn(least * rated, unit)}"
    )
    return reading.bar + units.EDGE >= least * rated, words


def _battery(s: Situation, contact: Contact) -> Found:
    percent = contact.report.battery_percent if contact.report else None
    if percent is None:
        return UNKNOWN
    return percent > s.procedure.battery_low_percent, f"{percent} %"


def _link(contact: Contact) -> Found:
    """Proven both ways: a frame counts as heard only once its pack has echoed a beacon."""
    if contact.heard_ns is None:
        return None, "not proven both ways"
    if contact.signed_off:
        return False, "the pack is off"
    return (False, "no signal") if contact.lost or contact.clash else (True, "")


def _low_air(s: Situation, wearer: Wearer, contact: Contact | None) -> Found:
    low = s.cylinder(wearer, contact).low_air_bar
    unit = s.unit(wearer)
    return UNKNOWN if low is None else (True, f"{units.turn(low, unit)} {unit}")
