"""Alarms in a report: all of them, and how good they were."""

from collections.abc import Iterator

from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.ranking import within
from monitor.report import alarm_figures, words
from monitor.report.alarm_figures import PRIORITY_WORDS
from monitor.report.alarm_lives import AlarmLife, Answer
from monitor.report.alarm_quality import Quality, quality
from monitor.report.blocks import Block, Row, Section, Table, Text
from monitor.report.teller import NONE, Teller


def alarms(teller: Teller) -> Section:
    """Every alarm, with what it means and where its threshold comes from."""
    return Section("alarms", "Alarms", _alarms(teller))


def _alarms(teller: Teller) -> Iterator[Block]:
    lives = teller.found.lives
    yield alarm_table("Every alarm, the first to be raised first", teller, lives.in_order())
    if lives.left_out:
        yield Text(f"{lives.left_out} more alarms are not told: too many.", strong=True)
    kinds = sorted({life.kind for life in lives.in_order()})
    yield Table(
        "What these alarms are",
        ("alarm", "raised", "ends", "what to do", "answer within", "source of the threshold"),
        (
            (e.word, e.raised, e.clears, _to_do(teller, e.kind), within(e.kind), e.source)
            for e in (CATALOGUE[kind] for kind in kinds)
        ),
    )


def _to_do(teller: Teller, kind: Kind) -> str:
    return teller.opened.procedure.do.get(kind, CATALOGUE[kind].to_do)


def alarm_table(caption: str, teller: Teller, lives: list[AlarmLife]) -> Table:
    """Alarms with start, who took them, end and reason."""
    return Table(
        caption,
        ("number", "alarm", "priority", "about", "place", "raised", "why", "acknowledged",
         "condition ended", "ended", "reason"),
        (_alarm_row(teller, life) for life in lives),
    )  # fmt: skip


def brief_alarms(caption: str, teller: Teller, lives: list[AlarmLife]) -> Table:
    """Those of one wearer, as far as it needs to be said twice."""
    rows = (_alarm_row(teller, life) for life in lives)
    return Table(
        caption,
        ("number", "alarm", "raised", "why", "acknowledged", "condition ended", "ended"),
        ((row[0], row[1], *row[5:10]) for row in rows),
    )


def _alarm_row(teller: Teller, life: AlarmLife) -> Row:
    answers = []
    for wait in life.waits:
        how = f"by {wait.by}" if wait.answer is Answer.TAKEN else wait.answer.value
        if wait.answer is Answer.BY_ITSELF and wait.spell.to_ns == wait.spell.from_ns:
            continue  # a notice, which wants no answer
        waited = words.seconds_up(wait.spell.length_ns(teller.found.end_ns))
        answers.append(f"{teller.at(wait.spell.to_ns)} {how} after {waited}".strip())
    reasons = [f"put aside by {a.by}: {a.reason}; {a.ended or 'still is'}" for a in life.asides]
    if life.reset:
        t, by, why = life.reset
        reasons.append(f"reset by {by} at {teller.at(t)}: {why}")
    again = f", {words.counted(len(life.began), 'time')}" if len(life.began) > 1 else NONE
    return (
        str(life.number), life.word, PRIORITY_WORDS[life.priority], life.subject, life.location,
        f"{teller.at(life.raised_ns)}{again}", life.detail, "; ".join(answers),
        teller.at(life.cleared_ns) or "holds where the record ends",
        teller.at(life.ended_ns) or _how_it_stands(life), "; ".join(reasons),
    )  # fmt: skip


def _how_it_stands(life: AlarmLife) -> str:
    if life.asides and life.asides[-1].spell.to_ns is None:
        how = "is put aside"
    elif life.lines and life.lines[-1].to_ns is None:
        how = "stands"
    else:
        how = "is held back by the rules"
    return f"{how} where the record ends"


# ---------------------------------------------------------------- how good they were


def alarm_quality(teller: Teller) -> Section:
    """Figures beside the published ones."""
    return Section("quality", "How good the alarms were", _quality(teller))


def reckoned(teller: Teller) -> Quality:
    """The quality of all alarms of the record."""
    found = teller.found
    return quality(found.lives.in_order(), found.end_ns, found.wears.under_air(found.end_ns))


def _quality(teller: Teller) -> Iterator[Block]:
    q = reckoned(teller)
    yield Text(alarm_figures.COUNTED)
    yield Text(alarm_figures.STANDARDS)
    yield Text(alarm_figures.PLANTS)
    yield Table(
        "Figures of this incident beside published ones",
        ("figure", "here", "published", "source", "compared"),
        alarm_figures.figures(q),
    )
    yield Table(
        "What began to wait most often",
        ("alarm", "times", "share", "whose"),
        (
            (c.word, str(c.times), words.percent_up(c.share),
             ", ".join(f"{subject} ({times})" for subject, times in c.subjects))
            for c in q.causes
        ),
        "nothing",
    )  # fmt: skip
    yield Table(
        "Chattering: three or more times in a minute",
        ("alarm", "about", "its worst minute began", "times"),
        ((c.word, c.subject, teller.at(c.at_ns), str(c.times)) for c in q.chattering),
    )
    yield Table(
        "Standing for more than 30 min",
        ("alarm", "about", "when"),
        ((s.word, s.subject, teller.spell(s.spell)) for s in q.long),
    )
    yield Table(
        "Floods: from ten in ten minutes until under five",
        ("from", "to", "alarms"),
        ((teller.at(f.from_ns), teller.at(f.to_ns), str(f.began)) for f in q.floods),
    )
    yield Table(
        "Put aside",
        ("alarm", "about", "when", "for", "by", "reason", "how it came back"),
        (
            (life.word, life.subject, teller.spell(a.spell), words.counted(a.minutes, "minute"),
             a.by, a.reason, a.ended or "still is")
            for life in teller.found.lives.in_order() for a in life.asides
        ),
        "never",
    )  # fmt: skip
    yield Table(
        "Not acknowledged",
        ("how the wait ended", "times"),
        ((answer.value, str(times)) for answer, times in q.taking.not_taken),
    )
