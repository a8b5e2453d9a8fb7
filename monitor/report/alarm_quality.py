"""How good the alarms of an incident were: counts and times, as alarm management asks for them.

Pure, from the alarms of the record alone. What is counted is each time a danger or caution began
to wait for the officer: that is what interrupts. Notices want no answer; they count in the shares
of priorities and as chattering.

Windows slide: the peak is the worst ten minutes wherever they begin, which is never milder than
the worst of fixed ones. Where a figure must be picked between two, it is the less flattering.
"""

import math
from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.picture import Priority
from monitor.report.alarm_lives import AlarmLife, Answer, Spell, Wait

SECOND_NS = 1_000_000_000
MINUTE_NS = 60 * SECOND_NS
WINDOW_NS = 10 * MINUTE_NS
FLOOD_BEGINS = 10
"""In ten minutes."""
FLOOD_ENDS_UNDER = 5
MANY_IN_A_WINDOW = 10
"""More than so many in a period of ten minutes is one period too many."""
CHATTER = 3
"""Times in one minute."""
STALE_NS = 24 * 3_600 * SECOND_NS
LONG_NS = 30 * MINUTE_NS
"""About one wear: no alarm of an incident should stand for longer (our own choice)."""
CAUSES_MAX = 10


class Flood(NamedTuple):
    """A stretch in which more came than anybody can answer."""

    from_ns: int
    to_ns: int
    began: int
    """Alarms that began to wait in it, those that made it a flood included."""


class Cause(NamedTuple):
    """What kind of alarm began to wait how often."""

    kind: Kind
    word: str
    times: int
    share: float
    """Of all, 0 to 1."""
    subjects: tuple[tuple[str, int], ...]
    """Whose, most often first."""


class Chatter(NamedTuple):
    """One alarm of one subject that came again and again."""

    word: str
    subject: str
    at_ns: int
    """When its worst minute began."""
    times: int
    """In that minute."""


class Standing(NamedTuple):
    """An alarm that stood among the lines for long."""

    word: str
    subject: str
    spell: Spell


@dataclass(frozen=True, slots=True)
class Taking:
    """How long the officer needed to take what waited."""

    taken: int
    median_ns: int | None
    """Of two in the middle the longer one."""
    ninety_ns: int | None
    """Nine in ten were taken within this (nearest rank)."""
    longest_ns: int | None
    not_taken: tuple[tuple[Answer, int], ...]
    """How the other waits ended."""


@dataclass(frozen=True, slots=True)
class AsideUse:
    """How putting aside was used."""

    times: int
    alarms: int
    """Of so many."""
    total_ns: int
    """Together, how long they were out of the lines."""
    by_kind: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Quality:
    """All of it. Shares are 0 to 1."""

    length_ns: int
    under_air_ns: int
    """Of that, somebody was under air."""
    counted: int
    """Times a danger or caution began to wait."""
    counted_under_air: int
    """Of those, while somebody was under air."""
    peak: int
    """The most in any ten minutes."""
    peak_ns: int
    """When those ended."""
    periods: int
    """Of ten minutes, from the opening; the last may be shorter."""
    periods_over: int
    """With more than ten alarms."""
    floods: tuple[Flood, ...]
    flood_share: float
    """Of the whole length."""
    causes: tuple[Cause, ...]
    top_share: float
    """Of all, by the ten alarms (kind and subject) that came most often."""
    chattering: tuple[Chatter, ...]
    stale: tuple[Standing, ...]
    """Longer than a day."""
    long: tuple[Standing, ...]
    """Longer than about one wear."""
    by_priority: dict[Priority, int]
    """Times each began, notices too."""
    taking: Taking
    """Dangers and cautions together."""
    taking_of: dict[Priority, Taking]
    aside: AsideUse
    held_back: int
    """Times the rules held an alarm back."""
    again: int
    """Times a danger was announced again because nobody took it."""

    def per_window(self, *, under_air: bool = False) -> float | None:
        """Alarms in ten minutes, on average; None where there were no ten minutes to reckon from.

        Of less it would be more than ever came.
        """
        length = self.under_air_ns if under_air else self.length_ns
        count = self.counted_under_air if under_air else self.counted
        return count * WINDOW_NS / length if length >= WINDOW_NS else None

    def share_of(self, priority: Priority) -> float | None:
        """Share of one priority; None without any alarm."""
        total = sum(self.by_priority.values())
        return self.by_priority[priority] / total if total else None


def quality(lives: Sequence[AlarmLife], length_ns: int, under_air: Sequence[Spell]) -> Quality:
    """Reckon everything. ``under_air``: when anybody was, in order, without overlap."""
    waiting = [
        (t, life) for life in lives for t, priority in life.began if priority is not Priority.NOTICE
    ]
    waiting.sort(key=lambda pair: pair[0])
    times = [t for t, _ in waiting]
    peak, _, peak_ns = _busiest(times, WINDOW_NS)
    periods = Counter(t // WINDOW_NS for t in times)
    floods = _floods(times, length_ns)
    by_priority = Counter(priority for life in lives for _, priority in life.began)
    waits = [w for life in lives for w in life.waits if w.priority is not Priority.NOTICE]
    stale, long = _standing(lives, length_ns)
    return Quality(
        length_ns=length_ns,
        under_air_ns=sum(spell.length_ns(length_ns) for spell in under_air),
        counted=len(times),
        counted_under_air=sum(_is_in(t, under_air, length_ns) for t in times),
        peak=peak,
        peak_ns=peak_ns,
        periods=max(1, math.ceil(length_ns / WINDOW_NS)),
        periods_over=sum(count > MANY_IN_A_WINDOW for count in periods.values()),
        floods=floods,
        flood_share=_share(sum(f.to_ns - f.from_ns for f in floods), length_ns),
        causes=_causes([life for _, life in waiting]),
        top_share=_top_share([life for _, life in waiting]),
        chattering=_chattering(lives),
        stale=stale,
        long=long,
        by_priority={priority: by_priority[priority] for priority in Priority},
        taking=_taking(waits),
        taking_of={
            priority: _taking([w for w in waits if w.priority is priority])
            for priority in (Priority.DANGER, Priority.CAUTION)
        },
        aside=_aside(lives, length_ns),
        held_back=sum(life.held_back for life in lives),
        again=sum(life.insisted for life in lives),
    )


def _share(part: int, whole: int) -> float:
    return part / whole if whole > 0 else 0.0


def _is_in(t: int, spells: Iterable[Spell], end_ns: int) -> bool:
    return any(s.from_ns <= t <= s.from_ns + s.length_ns(end_ns) for s in spells)


def _busiest(times: Sequence[int], window_ns: int) -> tuple[int, int, int]:
    """The most in any window: how many, from the first of them, to the last. Times in order."""
    within: deque[int] = deque()
    most = (0, 0, 0)
    for t in times:
        within.append(t)
        while within[0] <= t - window_ns:
            within.popleft()
        if len(within) > most[0]:
            most = (len(within), within[0], t)
    return most


def _floods(times: Sequence[int], end_ns: int) -> tuple[Flood, ...]:
    """A flood begins with the tenth in a window; it ends when a window holds fewer than five."""
    # What leaves the window at an instant has left before anything enters at it.
    moves = sorted([(t, 1) for t in times] + [(t + WINDOW_NS, -1) for t in times])
    found: list[Flood] = []
    within = began = 0
    since: int | None = None
    for t, step in moves:
        if t > end_ns:
            break
        within += step
        began += step > 0
        if since is None and step > 0 and within >= FLOOD_BEGINS:
            since, began = t, within
        elif since is not None and within < FLOOD_ENDS_UNDER:
            found.append(Flood(since, t, began))
            since = None
    if since is not None:
        found.append(Flood(since, end_ns, began))
    return tuple(found)


def _causes(lives: Sequence[AlarmLife]) -> tuple[Cause, ...]:
    """By kind. The word is that of the most urgent of the kind."""
    by_kind: defaultdict[Kind, list[AlarmLife]] = defaultdict(list)
    for life in lives:
        by_kind[life.kind].append(life)
    found = [
        Cause(
            kind,
            min(of_kind, key=lambda life: life.priority).word,
            len(of_kind),
            len(of_kind) / len(lives),
            _most_often(Counter(life.subject for life in of_kind)),
        )
        for kind, of_kind in by_kind.items()
    ]
    found.sort(key=lambda cause: (-cause.times, cause.kind))
    return tuple(found[:CAUSES_MAX])


def _top_share(lives: Sequence[AlarmLife]) -> float:
    counts = Counter(life.key for life in lives)
    return _share(sum(times for _, times in counts.most_common(CAUSES_MAX)), len(lives))


def _most_often(counts: Counter[str]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))[:CAUSES_MAX])


def _chattering(lives: Sequence[AlarmLife]) -> tuple[Chatter, ...]:
    """Alarms are told apart by kind and subject: each time they come they have a new number."""
    times: defaultdict[Key, list[int]] = defaultdict(list)
    named: dict[Key, AlarmLife] = {}
    for life in lives:
        named.setdefault(life.key, life)
        times[life.key] += [t for t, _ in life.began]
    found = []
    for key, began in times.items():
        most, since, _ = _busiest(sorted(began), MINUTE_NS)
        if most >= CHATTER:
            found.append(Chatter(named[key].word, named[key].subject, since, most))
    found.sort(key=lambda chatter: (-chatter.times, chatter.at_ns))
    return tuple(found)


def _standing(
    lives: Sequence[AlarmLife], end_ns: int
) -> tuple[tuple[Standing, ...], tuple[Standing, ...]]:
    """Those that stood among the lines for too long: by the standards, and for an incident."""
    stale, long = [], []
    for life in lives:
        for spell in life.lines:
            length = spell.length_ns(end_ns)
            if length > STALE_NS:
                stale.append(Standing(life.word, life.subject, spell))
            if length > LONG_NS:
                long.append(Standing(life.word, life.subject, spell))
    return tuple(stale), tuple(long)


def _taking(waits: Sequence[Wait]) -> Taking:
    """Times from beginning to wait to taken, of those that were."""
    spans = sorted(
        wait.spell.to_ns - wait.spell.from_ns
        for wait in waits
        if wait.answer is Answer.TAKEN and wait.spell.to_ns is not None
    )
    others = Counter(wait.answer for wait in waits if wait.answer is not Answer.TAKEN)
    if not spans:
        return Taking(0, None, None, None, tuple(others.most_common()))
    return Taking(
        taken=len(spans),
        median_ns=spans[len(spans) // 2],
        ninety_ns=spans[math.ceil(9 * len(spans) / 10) - 1],
        longest_ns=spans[-1],
        not_taken=tuple(others.most_common()),
    )


def _aside(lives: Sequence[AlarmLife], end_ns: int) -> AsideUse:
    used = [(life, aside) for life in lives for aside in life.asides]
    kinds = Counter(life.word for life, _ in used)
    return AsideUse(
        times=len(used),
        alarms=len({life.number for life, _ in used}),
        total_ns=sum(aside.spell.length_ns(end_ns) for _, aside in used),
        by_kind=_most_often(kinds),
    )
