"""The picture: everything a display shows at one instant, made from what the fold knows."""

from functools import partial

from monitor.incident import crew
from monitor.incident.alarm_view import alarm_view, put_aside_views
from monitor.incident.alarms import ordering
from monitor.incident.alarms.catalogue import AT_DOOR_PHASES
from monitor.incident.alarms.engine import Alarm
from monitor.incident.contact import Contact
from monitor.incident.orders import view as orders
from monitor.incident.orders.giving import to_account_for
from monitor.incident.picture import LinkView, Phase, Picture, Signal, UnjoinedView
from monitor.incident.record import briefs, sets, undoing
from monitor.incident.record.checks import checks_of
from monitor.incident.situation import Situation
from monitor.incident.sounding import sounding
from monitor.incident.wearer import Wearer
from monitor.incident.wearer_view import danger_since, known_of, signal_of, wearer_view

LIT_NS = 10_000_000_000
"""So long a pack stands out that has just signed on, or whose button was pressed."""
HEARD = frozenset({Signal.HEARD})
"""What the header counts: whoever is heard now, none in a gap of the signal."""


def picture_of(s: Situation) -> Picture:
    """Everything at ``s.now``."""
    opened = s.opened
    by_wearer = _alarms_by_wearer(s)
    dangers = {
        number: since
        for number, alarms in by_wearer.items()
        if (since := danger_since(alarms)) is not None
    }
    crews = crew.crews_under_air(s.wearers.values())
    wearers = tuple(
        wearer_view(s, wearer, by_wearer.get(number, []), _first_of_mates(wearer, crews, dangers))
        for number, wearer in sorted(s.wearers.items())
    )
    expected = [w for w in wearers if w.under_air and w.pack is not None]
    return Picture(
        t=s.now,
        wall_ns=s.wall_base_ns + s.now,
        name=opened.name,
        place=opened.place,
        entry_point=opened.entry_point,
        operation=opened.operation,
        stage=s.record.stage,
        officer=s.record.officer,
        use=s.record.use,
        keyed=opened.keyed,
        procedure=opened.procedure.name,
        under_air=sum(w.under_air for w in wearers),
        came_out=sum(_came_out(wearer) for wearer in s.wearers.values()),
        signals_heard=sum(w.signal in HEARD for w in expected),
        signals_expected=len(expected),
        wearers=wearers,
        alarms=tuple(
            alarm_view(s, alarm, crews)
            for alarm in ordering.lines(
                s.engine.by_key.values(), lambda a: _crew_of(s, a), partial(known_of, s)
            )
        ),
        unjoined=tuple(_unjoined_view(s, c) for _, c in sorted(s.contacts.items()) if not c.wearer),
        links=tuple(
            LinkView(link=number, name=link.name, up=link.up, detail=link.detail)
            for number, link in sorted(s.links.items())
        ),
        disk=s.disk.state,
        not_on_disk_ns=None if s.disk.since_ns is None else max(0, s.now - s.disk.since_ns),
        put_aside=put_aside_views(s),
        refused=tuple(sorted(s.refused.items())),
        doubtful=tuple(sorted(s.doubtful.items())),
        holder=s.holder.by if s.holder else "",
        closed=s.closed,
        pressure_unit=opened.procedure.pressure_unit,
        sound=s.sound.state if s.sound else "",
        sounding=sounding(s),
        orders=orders.order_views(s),
        emergency=orders.emergency_views(s),
        roll_call_in_ns=orders.roll_call_in_ns(s),
        to_account_for=to_account_for(s),
        checks=tuple(
            checks_of(s, wearer)
            for _, wearer in sorted(s.wearers.items())
            if wearer.phase in AT_DOOR_PHASES
        ),
        paused=s.record.paused,
        areas=briefs.area_views(s),
        reliefs=briefs.relief_views(s),
        defects=sets.defect_views(s),
        to_fill=sets.cylinder_views(s),
        after_use=sets.after_use_views(s),
        undo=undoing.undo_view(s),
    )


def _crew_of(s: Situation, alarm: Alarm) -> str:
    wearer = s.wearers.get(alarm.key.wearer)
    return wearer.crew if wearer else alarm.key.crew


def _came_out(wearer: Wearer) -> bool:
    return (
        wearer.wear is not None
        and wearer.wear.out_ns is not None
        and (wearer.phase in (Phase.OUT, Phase.OFF_AIR))
    )


def _alarms_by_wearer(s: Situation) -> dict[int, list[Alarm]]:
    found: dict[int, list[Alarm]] = {}
    for alarm in s.engine.by_key.values():
        for number in alarm.wearers:
            found.setdefault(number, []).append(alarm)
    return found


def _first_of_mates(wearer: Wearer, crews: crew.Crews, dangers: dict[int, int]) -> int | None:
    """Since when a mate under air has been in danger; None if none is."""
    if not wearer.under_air:
        return None
    return min(
        (dangers[m.number] for m in crew.mates(wearer, crews) if m.number in dangers), default=None
    )


def _unjoined_view(s: Situation, contact: Contact) -> UnjoinedView:
    last = max(
        t
        for t in (contact.heard_ns, contact.unproven_ns, contact.distress_doubt_ns, 0)
        if t is not None
    )
    dbar = contact.pressure_dbar
    return UnjoinedView(
        pack=contact.identity,
        pressure_bar=None if dbar is None else dbar / 10,
        silence_ns=s.now - last,
        signal=signal_of(s, None, contact),
        lit=contact.shown_ns is not None and s.now - contact.shown_ns <= LIT_NS,
    )
