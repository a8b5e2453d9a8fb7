"""One alarm line, made from an alarm and what the fold knows of its subject."""

from monitor.incident import crew
from monitor.incident.alarm_detail import detail_of, held_back
from monitor.incident.alarms import over
from monitor.incident.alarms.catalogue import CATALOGUE, Kind, line_word
from monitor.incident.alarms.engine import Alarm
from monitor.incident.alarms.ranking import NOTED_OUT, RANKING, About
from monitor.incident.grouping import NAMES_CELLS, OF_ALL, is_group, named, names
from monitor.incident.orders import alarming
from monitor.incident.picture import AlarmView, PutAsideView
from monitor.incident.procedure import TO_DO_MAX
from monitor.incident.service_words import said
from monitor.incident.silence import GROUPS, everybody_silent, low_of, with_pack_on
from monitor.incident.situation import Situation
from monitor.incident.together import group_of, only_one
from monitor.incident.wearer import Wearer
from monitor.incident.wearer_view import air_of, subject_of


def alarm_view(s: Situation, alarm: Alarm, crews: crew.Crews) -> AlarmView:
    """The line of one alarm."""
    wearer = subject_of(s, alarm) or only_one(s, alarm)
    contact = s.contact_of(wearer) if wearer else s.contacts.get(alarm.key.pack)
    mates = crew.mates(wearer, crews) if wearer else []
    return AlarmView(
        number=alarm.number,
        kind=alarm.key.kind.value,
        word=said(_word(s, alarm), s.procedure.words),
        priority=alarm.priority,
        state=alarm.state.value,
        acknowledged=not alarm.waits,
        latched=alarm.latched,
        wearers=tuple(sorted(alarm.wearers)),
        subject=_subject(s, alarm, wearer),
        crew=wearer.crew if wearer else alarm.key.crew,
        location=wearer.location if wearer else "",
        location_at_ns=wearer.location_ns if wearer else None,
        air=air_of(s, wearer, contact) if wearer else None,
        mates=tuple(
            (mate.number, mate.label, air_of(s, mate, s.contact_of(mate)).pressure_bar)
            for mate in mates
        ),
        raised_at_ns=alarm.raised_ns,
        raised_for_ns=s.now - alarm.raised_ns,
        to_do=_to_do(s, alarm, wearer),
        detail=held_back(alarm) if _is_over(alarm) else detail_of(s, alarm, wearer, contact),
        insistent=alarm.insisted,
        aside_minutes_max=CATALOGUE[alarm.key.kind].aside_minutes if alarm.may_be_put_aside else 0,
        of_base=RANKING[alarm.key.kind].about is About.BASE,
    )


def _is_of_all(s: Situation, alarm: Alarm) -> bool:
    """Whether it is about everybody under air, and has words for that."""
    return bool(CATALOGUE[alarm.key.kind].to_do_all) and everybody_silent(s)


def _word(s: Situation, alarm: Alarm) -> str:
    if _is_of_all(s, alarm) and alarm.condition:
        return CATALOGUE[alarm.key.kind].word_all.upper()
    return line_word(alarm.key.kind, alarm.priority)


def _is_over(alarm: Alarm) -> bool:
    return over.is_over(alarm.key.kind, condition=alarm.condition)


def _to_do(s: Situation, alarm: Alarm, wearer: Wearer | None) -> str:
    """What to do, in the words of the service, and for which order.

    To somebody who is out nobody says to come out. Once the cause is over, that, and what is left.
    """
    entry = CATALOGUE[alarm.key.kind]
    if _is_over(alarm):
        # Who was noted out before it began was not brought out of it by that note.
        since = wearer is not None and wearer.phase_ns >= alarm.raised_ns
        phase = wearer.phase if wearer is not None and since else None
        return said(over.words(entry.kind, phase), s.procedure.words)
    told = (wearer,) if wearer is not None else [s.wearers[w] for w in alarm.wearers]
    if entry.to_do_out and told and all(w.phase in NOTED_OUT for w in told):
        return said(entry.to_do_out, s.procedure.words)
    plain = entry.to_do_all if _is_of_all(s, alarm) else entry.to_do
    to_do = s.procedure.do.get(alarm.key.kind) or said(plain, s.procedure.words)
    order = alarming.which(s, alarm.key.kind, wearer) if wearer is not None else ""
    named = f"{said(order, s.procedure.words)}: {to_do}" if order else to_do
    return named if len(named) <= TO_DO_MAX else to_do


def put_aside_views(s: Situation) -> tuple[PutAsideView, ...]:
    """Every alarm that is put aside, the first to come back first."""
    found = [(a.aside, a) for a in s.engine.by_key.values() if a.aside is not None]
    return tuple(
        PutAsideView(
            number=alarm.number,
            word=said(line_word(alarm.key.kind, alarm.priority), s.procedure.words),
            subject=_subject(s, alarm, subject_of(s, alarm)),
            wearers=tuple(sorted(alarm.wearers)),
            holds=alarm.condition,
            until_ns=aside.until_ns,
            left_ns=aside.until_ns - s.now,
            by=aside.by,
            reason=aside.reason,
        )
        for aside, alarm in sorted(found, key=lambda pair: (pair[0].until_ns, pair[1].number))
    )


def _low(s: Situation, alarm: Alarm, before: str) -> str:
    """Whose air is low among the silent, beside who they are; empty: nobody's."""
    words = ", air low: "
    low = low_of(s, alarm.wearers) if alarm.key.kind in GROUPS and alarm.condition else []
    labels = [s.wearers[number].label for number in low]
    return words + named(labels, cells=NAMES_CELLS - len(before + words)) if low else ""


def _subject(s: Situation, alarm: Alarm, wearer: Wearer | None) -> str:
    if is_group(alarm) and (wearer is None or alarm.key.kind in OF_ALL):
        return names(s, alarm)
    if alarm.key.crew and not is_group(alarm):
        return alarm.key.crew + _low(s, alarm, alarm.key.crew)
    if wearer is not None:
        return f"{wearer.number} {wearer.label}"
    together = group_of(s, alarm)
    if together:
        return together
    if alarm.key.kind is Kind.NO_STANDBY:
        return f"{s.staffing.ready} of {s.procedure.standby}"
    if alarm.key.kind is Kind.TOO_MANY:
        most = s.procedure.most_wearers_at(s.record.stage)
        return f"{sum(w.under_air for w in s.wearers.values())}, at most {most}"
    if alarm.key.kind is Kind.SEVERAL_SILENT:
        left = len(alarm.wearers)
        if _is_over(alarm):
            return f"{left} still silent" if left else "all heard"
        share = f"{left} of {len(with_pack_on(s))}"
        return share + _low(s, alarm, share)
    if alarm.key.pack:
        return f"pack {alarm.key.pack}"
    if alarm.key.link:
        # Recording may go on with fewer links than before.
        link = s.links.get(alarm.key.link)
        return link.name if link is not None else f"link {alarm.key.link}"
    return "base"
