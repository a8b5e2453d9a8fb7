"""A person on the board, and one stay of theirs on air."""

from dataclasses import dataclass, field

from monitor.incident.air.breathing import Breathing
from monitor.incident.air.shown import SECOND_NS, Reading
from monitor.incident.air.spoken import SpokenGauge, Word
from monitor.incident.air.start import StartFrom
from monitor.incident.air.turn_back import Turn, Way
from monitor.incident.alarms.catalogue import UNDER_AIR_PHASES
from monitor.incident.picture import Phase

PRE_ALARM_SPELL_NS = 600 * SECOND_NS
WEARS_KEPT_MAX = 20
PRE_ALARMS_FOR_CAUTION = 3
"""The third motion pre-alarm in ten minutes is a caution."""


Several = frozenset[tuple[int, ...]]
"""Of whom the lowest reading of several is told, and by what each of them breathes."""


@dataclass(slots=True)
class Wear:
    """One stay on air of one wearer, from connecting to off air."""

    connected_ns: int
    entered_ns: int | None = None
    out_ns: int | None = None
    off_ns: int | None = None
    objective_ns: int | None = None
    """When the objective was reached; None: on the way in, at first or sent on."""
    back_ns: int | None = None
    """When the way back began."""
    gauge_bar: tuple[float, float] | None = None
    """At the door: what the wearer read out, and what the pack told then; None: not compared."""
    augmented_ns: int | None = None
    """Since when the breath comes from another supply than the own cylinder; None: it does not."""
    augmented_bar: float | None = None
    """The own pressure as shown then, or when the officer last said that it is right."""
    breathing: Breathing | None = None
    """What the readings say; None before the first."""
    way: Way | None = None
    """Pressures of the way in; None before anything is known of the start."""
    start_from: StartFrom | None = None
    """How the pressure at connecting was come by; None: it was not."""
    cylinder_ns: int = 0
    """When the cylinder was begun that is breathed from: at connecting, or a fresh one later."""
    unknown_ns: int = 0
    """From when air of which no pressure is told is counted."""
    way_ns: int = 0
    """When a step of the way was last noted; only readings after it may put the way right."""
    cylinders: int = 1
    """Breathed from in this wear."""
    turn: Turn | None = None
    """Where this wearer must start back; None: no rule, or nothing known."""
    turns_soon: bool = False
    """Its own mark is so near that the officer is reminded of it."""
    rate_looked_at: tuple[float, float] | None = None
    """At which pressure the wearer's rate was last looked at for that, and what it was, L/min."""
    turn_ns: int | None = None
    """When this wearer's own mark was reached."""
    turn_paused_ns: int = 0
    """Of the time since then, so long on another supply: the deadline to start back waited."""
    projected_soon: bool = False
    """The falling estimate is so near to the mark to turn back at."""
    projected_turn: bool = False
    """The falling estimate has reached it, with no reading since."""
    voice_doubt: str = ""
    """How the last reading by voice contradicts telemetry, in words; empty: it does not."""
    said: Reading | None = None
    """The last reading by voice, whether it governs or not; None: none of this cylinder."""
    read_out: SpokenGauge = field(default_factory=SpokenGauge)
    """What was read out of this cylinder, to hold the next reading by voice against."""
    lowest: SpokenGauge = field(default_factory=SpokenGauge)
    """The same of the lowest of several, ..."""
    lowest_of: Several = frozenset()
    """... as long as it is told of the same, with the same cylinders."""
    aside_ns: int = 0
    """So long on other supplies, until the last of them was left."""
    over_spoken: int = 0
    """So many readings of the pack running that are too high for what was spoken."""
    by_voice: bool = False
    """The officer has said that the pack's pressure does not count: only what is spoken does."""
    gauge_doubt: str = ""
    """Why the pressure shown may not be so, in words; empty: nothing speaks against it."""
    doubt_settled: bool = False
    """A person began that doubt or has settled it: it does not flicker."""
    low_by_flag: bool = False
    """Low air was last told by the pack's flag alone, with a pressure over the value or none."""
    left_bar: float | None = None
    """The last reading before going off air; None: not off air, or there was none."""
    listed: bool = False
    """Its cylinder is among those to be filled, or was."""
    spoken: Reading | None = None
    """A reading not by telemetry that governs, until a later telemetry reading agrees."""
    word_ns: int = 0
    """Last word of this wearer's air: connecting, then each reading by voice."""
    word_due: bool = False
    """That reading has stood for longer than the procedure allows."""
    voice_ns: int | None = None
    """When something was last noted that only a word of theirs tells; None: nothing was."""
    out_look: tuple[int, int] | None = None
    """Noted out: when the pressure was looked at, and what it was, in 0.1 bar."""
    out_breathes: bool = False
    """Since the look before that it has fallen as by breathing."""
    spoke_ns: int | None = None
    """Last reading given by voice; None before the first."""
    estimate: tuple[Reading, bytes] | None = None
    """While an estimate governs: from what it falls, and what was counted of the breathing then."""
    projected_low: bool = False
    """The falling estimate has reached the low-air value with no reading since."""
    overdue: bool = False
    """That is told as an alarm of its own, which then stays until a new reading."""
    low_air: bool = False
    """Low-air value reached in this wear and no new cylinder seen."""
    low_ns: int | None = None
    """When it was reached."""
    pre_alarms: int = 0
    pre_alarm_times: list[int] = field(default_factory=list)
    """The last few, at most ``PRE_ALARMS_FOR_CAUTION``."""
    in_pre_alarm: bool = False

    @property
    def augmented(self) -> bool:
        """Whether the wearer breathes from another supply than the own cylinder."""
        return self.augmented_ns is not None

    def augment(self, t: int, bar: float | None) -> None:
        """Go on another supply, the own gauge at ``bar``: the deadline to start back waits."""
        self.augmented_ns = t
        self.augmented_bar = bar

    def own_again(self, t: int) -> None:
        """Back on the own cylinder: the deadline goes on from where it stood."""
        if self.augmented_ns is not None and self.turn_ns is not None:
            self.turn_paused_ns += t - self.augmented_ns
        if self.augmented_ns is not None:
            self.aside_ns += t - self.augmented_ns
        self.augmented_ns = self.augmented_bar = None

    def word(self, reading: Reading) -> Word:
        """A reading by voice, with how long the own cylinder was breathed from by then."""
        until = reading.t if self.augmented_ns is None else min(reading.t, self.augmented_ns)
        breathed_ns = until - self.connected_ns - self.aside_ns
        note = self.breathing.consumption.record if self.breathing else b""
        return Word(reading.t, reading.bar, breathed_ns / SECOND_NS, note)

    def must_turn_for_ns(self, now: int) -> int | None:
        """How long the mark to turn back at has been passed, less the waiting; None: it is not."""
        if self.turn_ns is None:
            return None
        until = now if self.augmented_ns is None else self.augmented_ns
        return until - self.turn_ns - self.turn_paused_ns

    @property
    def start_bar(self) -> float | None:
        """Pressure that times may be planned from; None where it is not known well enough.

        One that is reckoned high, or was heard long before, would plan too late.
        """
        late = self.start_from in {StartFrom.RECKONED, StartFrom.HEARD}
        return None if self.way is None or late else self.way.start_bar

    def count_pre_alarm(self, t: int) -> None:
        """Note a motion pre-alarm that begins at ``t``."""
        self.pre_alarms += 1
        self.pre_alarm_times.append(t)
        del self.pre_alarm_times[:-PRE_ALARMS_FOR_CAUTION]

    def too_many_pre_alarms(self) -> bool:
        """Whether the last few came so fast that somebody should look."""
        times = self.pre_alarm_times
        return len(times) == PRE_ALARMS_FOR_CAUTION and times[-1] - times[0] <= PRE_ALARM_SPELL_NS


@dataclass(slots=True)
class Wearer:
    """One line of the board."""

    number: int
    name: str
    call_sign: str
    crew: str
    leader: bool
    phase_ns: int
    """Since when in this phase."""
    phase: Phase = Phase.LISTED
    """Changed by ``step_to`` alone."""
    under_air: bool = False
    """Whether this person breathes from the set, by the phase."""
    set_known: bool = False
    """A set was given to them, by hand or by a roster."""
    pack: int | None = None
    water_volume_l: float | None = None
    rated_bar: float | None = None
    apparatus: str = ""
    """Kind, as checked in; empty: as the pack tells."""
    gauge_unit: str = ""
    """What the gauge reads in; empty: as the procedure has it."""
    set_id: str = ""
    cylinder_id: str = ""
    task: str = ""
    brief: str = ""
    communications: str = ""
    ticked: dict[str, tuple[bool, str]] = field(default_factory=dict)
    """Start-of-use checks by hand since the set was joined: passed or not, remark."""
    after: set[str] = field(default_factory=set)
    """Steps of seeing to the set, ticked since it came off air."""
    door: str = ""
    """Another door by which this wearer came out; empty: this one."""
    moved_to: str = ""
    """The board that watches this wearer now; empty: this one."""
    moved_from: Phase | None = None
    """The phase in which that one took over, ..."""
    moved_from_ns: int = 0
    """... and since when it was that."""
    earlier: list[tuple[float, float]] = field(default_factory=list)
    """Of earlier wears, at most ``WEARS_KEPT_MAX``: litres used and seconds."""
    wear: Wear | None = None
    """The present one, or the last."""
    location: str = ""
    location_ns: int | None = None
    alone_ns: int | None = None
    """Since when inside without enough mates; None: not."""
    wears: int = 0
    """Ended since the last rest that was long enough."""
    connected: int = 0
    """Stays on air so far, with the present one."""
    rest_until_ns: int | None = None
    """When the rest is over that the procedure gives."""
    out_due_ns: int | None = None
    """When it is looked at again whether somebody breathes who is noted out; None: it is not."""
    prompt_ns: int | None = None
    """When something is due next by the clock alone."""

    @property
    def label(self) -> str:
        """As the base calls this person."""
        return self.call_sign or self.name

    def step_to(self, phase: Phase) -> None:
        """Move on to this phase."""
        self.phase = phase
        self.under_air = phase in UNDER_AIR_PHASES

    def remember(self, used: tuple[float, float]) -> None:
        """Keep seconds and litres of a wear that has ended, for the next one's forecast."""
        seconds, litres = used
        self.earlier.append((litres, seconds))
        del self.earlier[:-WEARS_KEPT_MAX]

    @property
    def live_wear(self) -> Wear | None:
        """The wear that is going on; None off air."""
        return self.wear if self.under_air else None
