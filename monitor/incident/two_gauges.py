"""A wearer's own gauge, read out by voice, beside what the pack tells: which of the two governs.

What is read out governs as far as it is the worse case. Two gauges agree only if they were read at
one time: what was said five minutes ago, and air has gone since, agrees with nothing that is told
now. So where the two contradict each other the doubt stays until they are read together and agree,
or the officer says which counts; until then the lower of the two is shown.

Where no pack is heard a reading by voice is held against those before it, see ``air.spoken``.
"""

from collections.abc import Iterable

from monitor.incident import starting, wording
from monitor.incident.air.agreement import most_left_bar
from monitor.incident.air.breathing import NEW_CYLINDER_BAR, Breathing
from monitor.incident.air.gauge import GaugeFault, is_outside
from monitor.incident.air.shown import Reading
from monitor.incident.air.spoken import Doubt, SpokenGauge
from monitor.incident.air.spoken import most_left_bar as left_of_word
from monitor.incident.airing import breathe_spoken
from monitor.incident.contact import Contact
from monitor.incident.events import TrustGauge
from monitor.incident.picture import AirFrom
from monitor.incident.situation import Situation
from monitor.incident.wearer import Several, Wear, Wearer

OVER_SPOKEN = 2
"""Readings running of the pack that are too high for what was spoken: one is noise."""


AGREES_FRACTION = 0.5
"""Of the tolerance, to end a doubt between voice and gauge: half a mark of a usual gauge (the dead
band of ISA-18.2, from memory)."""


def take_spoken(
    s: Situation, wearer: Wearer, wear: Wear, spoken: Reading, *, of_crew: Several = frozenset()
) -> None:
    """Let a reading by voice govern, as far as it is the worse case.

    ``of_crew``: it is the lowest of these.

    Higher than the last telemetry by no more than the tolerance, it is the newer of two that
    agree, at the lower figure. Higher by more, it contradicts telemetry, which then governs
    while it is present, and what was said before it counts no more; in silence it changes nothing.
    """
    contact = s.contact_of(wearer)
    told = s.believed(wear, contact)
    if older_agrees(spoken, wear.spoken) or older_agrees(spoken, told):
        return
    if is_outside(spoken.bar, s.cylinder(wearer, contact).rated_bar):
        wear.voice_doubt = wording.spoken_outside(spoken.bar, s.unit(wearer))
        return
    wear.said = spoken
    tolerance = s.procedure.reading_tolerance_bar
    if wear.voice_doubt:
        # What is in doubt already is so until the two agree well: no doubt comes and goes.
        tolerance *= AGREES_FRACTION
    now_bar = s.told_bar(wearer)
    if now_bar is None and told is not None and _before_the_valve(wear, told, tolerance):
        told = None
    doubt = _doubt(s, wearer, wear, spoken, told, of_crew) if now_bar is None else None
    starting.spoken(s, wearer, wear, spoken, doubtful=doubt is not None)
    if doubt is not None:
        wear.voice_doubt = wording.spoken_high(spoken.bar, doubt.left_bar, s.unit(wearer))
        _falls_from(wear, spoken, doubt)
        return
    breathe_spoken(s, wearer, spoken)
    wear.voice_doubt, wear.over_spoken = "", 0
    against = now_bar if now_bar is not None else told.bar if told is not None else None
    if against is not None and spoken.bar > against + tolerance:
        wear.voice_doubt = wording.gauge_differs(against, spoken.bar, s.unit(wearer))
        if now_bar is not None:
            wear.spoken = None
        return
    if now_bar is not None and spoken.bar < now_bar - tolerance:
        wear.voice_doubt = wording.gauge_differs(now_bar, spoken.bar, s.unit(wearer))
    elif now_bar is not None and wear.breathing is not None:
        if _rests_as_well(wear.breathing, spoken):
            return
        wear.doubt_settled = True
        wear.breathing.look_anew()  # somebody looked, and the gauge is right as it is
    bar = spoken.bar if against is None else min(spoken.bar, against)
    wear.spoken = Reading(spoken.t, bar, spoken.source)
    if s.own_supply(wearer, contact):
        _believe(s, wear, spoken, of_crew)


def several(s: Situation, numbers: Iterable[int]) -> Several:
    """Of whom a lowest reading is told: with other cylinders or supplies it is another matter."""
    found = [(wearer, wear) for n in numbers if (wear := (wearer := s.wearers[n]).live_wear)]
    return frozenset(
        (w.number, w.pack or 0, wear.cylinder_ns, wear.aside_ns, int(wear.augmented))
        for w, wear in found
    )


def _believe(s: Situation, wear: Wear, spoken: Reading, of_crew: Several = frozenset()) -> None:
    """Keep a reading, to hold the next against."""
    if wear.breathing is not None:
        word, tolerance = wear.word(spoken), s.procedure.reading_tolerance_bar
        gauge = _lowest_of(wear, of_crew) if of_crew else wear.read_out
        gauge.believe(word, tolerance, wear.breathing.most_l_per_bar)


def _lowest_of(wear: Wear, of_crew: Several) -> SpokenGauge:
    """The lowest readings of just these, which can only fall as each of them does."""
    if wear.lowest_of != of_crew:
        wear.lowest, wear.lowest_of = SpokenGauge(), of_crew
    return wear.lowest


def _before_the_valve(wear: Wear, told: Reading, tolerance: float) -> bool:
    """Whether the pack's last word is that of a cylinder not yet opened: nobody breathes from 0."""
    return told.bar <= tolerance and told.t < wear.cylinder_ns + starting.VALVE_NS


def _doubt(
    s: Situation,
    wearer: Wearer,
    wear: Wear,
    spoken: Reading,
    told: Reading | None,
    of_crew: Several,
) -> Doubt | None:
    """Why a reading cannot be after what was read before; None: it can.

    A pack's last reading that it is far over is another matter: the two gauges differ.
    """
    breathing = wear.breathing
    if breathing is None or not s.own_supply(wearer, s.contact_of(wearer)):
        return None
    word, tolerance = wear.word(spoken), s.procedure.reading_tolerance_bar
    doubt = wear.read_out.doubt(word, tolerance, breathing.most_l_per_bar)
    if doubt is None and of_crew:
        lowest, own = _lowest_of(wear, of_crew), wear.read_out.last
        # Who has read the own gauge out since is held against that.
        if lowest.last is not None and (own is None or own.t <= lowest.last.t):
            doubt = lowest.doubt(word, tolerance, breathing.most_l_per_bar)
    if doubt is not None or told is None or not told.t < spoken.t:
        return doubt
    left_bar = left_of_word(wear.word(told), word.breathed_s, breathing.most_l_per_bar)
    rests = left_bar + tolerance < spoken.bar <= told.bar + tolerance
    return Doubt(left_bar, None) if rests else None


def _falls_from(wear: Wear, spoken: Reading, doubt: Doubt) -> None:
    """Let air fall from the last reading in which a gauge at rest can be believed."""
    since, breathing = doubt.rests_since, wear.breathing
    if since is None or breathing is None:
        return
    breathing.read_out_at_rest(since.note)
    if wear.spoken is not None:
        breathed_s = wear.word(spoken).breathed_s
        left_bar = left_of_word(wear.word(wear.spoken), breathed_s, breathing.most_l_per_bar)
        if left_bar >= doubt.left_bar:
            wear.spoken = Reading(since.t, since.bar, AirFrom.VOICE)


def _rests_as_well(breathing: Breathing, spoken: Reading) -> bool:
    """Whether the pack's gauge is stuck, and what is read out shows no breathing either."""
    stuck = breathing.fault is GaugeFault.STUCK and breathing.gauge.trusted is not None
    return stuck and not breathing.gauge.is_low_enough(spoken.bar, breathing.most_l_per_bar)


def older_agrees(spoken: Reading, known: Reading | None) -> bool:
    """Whether something read later is known, and is no higher: air falls."""
    return known is not None and known.t > spoken.t and known.bar <= spoken.bar


def settle(s: Situation, contact: Contact, wearer: Wearer, wear: Wear) -> bool:
    """Hold a new reading of the pack against the one by voice that governs; tells if it changed.

    Telemetry governs again once it is no higher than what was spoken can have come to. Where the
    two were in doubt it only takes the place of the estimate that is shown when it is the lower.
    """
    spoken, told = wear.spoken, s.believed(wear, contact)
    if spoken is None or told is None or told.t <= spoken.t:
        return False
    if wear.voice_doubt:
        shown_bar = s.shown_bar(wearer)
        if shown_bar is not None and told.bar < shown_bar:
            wear.spoken = told
            return True
        return False
    known = s.outlooks(wearer, wear) if s.is_known(wear) else None
    outlook = known.likely if known else None
    most_bar = most_left_bar(spoken, s.cylinder(wearer, contact), s.now, outlook)
    if told.bar <= most_bar + s.procedure.reading_tolerance_bar:
        wear.spoken, wear.over_spoken = None, 0
        return True
    wear.over_spoken = wear.over_spoken + 1 if told.bar > most_bar + NEW_CYLINDER_BAR else 0
    if wear.over_spoken < OVER_SPOKEN:
        return False
    wear.voice_doubt = wording.which_counts(told.bar, spoken.bar, s.unit(wearer))
    return True


def trust_gauge(s: Situation, act: TrustGauge) -> None:
    """Do as the officer says of the two: the doubt is over."""
    wearer = s.wearers[act.wearer]
    wear = wearer.live_wear
    assert wear is not None, "refused before, where nobody is on air"
    wear.voice_doubt, wear.over_spoken, wear.doubt_settled = "", 0, True
    wear.by_voice = act.counts == "voice"
    wear.spoken = wear.said if wear.by_voice else None
    wear.read_out, wear.lowest = SpokenGauge(), SpokenGauge()
    if wear.breathing is not None:
        wear.breathing.look_anew()
    if wear.augmented:
        wear.augmented_bar = s.shown_bar(wearer)
    if wear.spoken is not None:
        _believe(s, wear, wear.spoken)


def why_not_trust(s: Situation, act: TrustGauge, _t: int) -> str | None:
    """Only of somebody on air, and only a gauge that has told something."""
    wearer = s.wearers[act.wearer]
    wear = wearer.live_wear
    if wear is None:
        return f"{wearer.label} is not on air."
    contact = s.contact_of(wearer)
    if act.counts == "pack" and (contact is None or contact.pressure_dbar is None):
        return f"{wearer.label}: no pack tells a pressure."
    if act.counts == "voice" and wear.said is None:
        return f"{wearer.label}: no reading by voice stands. Ask for the gauge first."
    return None
