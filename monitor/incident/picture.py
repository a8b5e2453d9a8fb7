"""The incident at one instant, frozen, for any display.

A picture carries ages and words; a display adds nothing but layout and never asks for the time.
Pressures are gauge pressures in bar; a display converts to the wearer's unit.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Literal

from monitor.incident.air.start import START_SURE, StartFrom
from monitor.incident.record.state import UndoView


class Priority(IntEnum):
    """How urgent, most urgent first. Shown as colour and sign, not as a word."""

    DANGER = 1
    CAUTION = 2
    NOTICE = 3


class Phase(StrEnum):
    """How far a wearer is through a wear."""

    LISTED = "listed"
    CHECKED_IN = "checked in"
    ON_AIR = "on air"
    ENTERED = "entered"
    OUT = "out"
    OFF_AIR = "off air"
    MOVED = "moved"
    """Another board watches this wearer."""


class Signal(StrEnum):
    """The pack's radio link, in the words of the screen."""

    NONE = "no telemetry"
    NEVER = "never heard"
    NOT_PROVEN = "not proven live"
    HEARD = "signal"
    GAP = "signal gap"
    LOST = "no signal"
    BY_VOICE = "by voice"
    SIGNED_OFF = "signed off"


class AirFrom(StrEnum):
    """Where the pressure shown comes from; decides how it is drawn."""

    NOWHERE = "unknown"
    TELEMETRY = "telemetry"
    VOICE = "voice"
    ENTRY = "entry record"
    ESTIMATE = "estimate"
    """Falling from the last reading; never drawn like a reading."""
    ASSUMED = "assumed fill"
    """Nobody has told any pressure: it is counted from the least fill, falling."""


FALLING = frozenset({AirFrom.ESTIMATE, AirFrom.ASSUMED})
"""What is no reading, and falls."""


@dataclass(frozen=True, slots=True)
class NextMark:
    """The next thing that the air of a wearer comes to, and when at the earliest."""

    target: Literal["turn", "low", "empty"]
    """Turn-back, low-air value, nothing left to breathe."""
    seconds: int
    """Until then, whole, rounded down; negative: so long ago."""
    by: Literal["T", "R", "F"]
    """Which says so: table, planned rate by real gas, forecast."""
    estimate: bool = False
    """From a falling estimate, with no reading to start from."""


@dataclass(frozen=True, slots=True)
class AirView:
    """What a wearer has left, the worse case."""

    source: AirFrom
    pressure_bar: float | None
    """As shown: the reading, or the falling estimate."""
    fraction: float | None
    """Of rated pressure, 0 to 1."""
    contents_l: float | None
    """Usable free air, litres at 1.01325 bar and 15 C."""
    reading_bar: float | None
    """The last real reading."""
    reading_age_ns: int | None
    low_air_bar: float | None
    """Where the low-air warning is expected."""
    rated_bar: float | None
    rate_l_min: float | None = None
    """Free air breathed lately, litres a minute; None where nothing tells, or none is told."""
    rate_mean_l_min: float | None = None
    """The same since connecting."""
    rate_about: bool = False
    """Less than three minutes are behind it."""
    next: NextMark | None = None
    ahead: tuple[NextMark, ...] = ()  # after ``next``: the low-air value, nothing left
    turn_bar: float | None = None
    """Where this wearer's crew must start back, on this wearer's gauge."""
    start_bar: float | None = None
    """Pressure at connecting that the marks are reckoned from."""
    start_from: StartFrom | None = None
    """How it was come by; None: there is none."""

    @property
    def start_sure(self) -> bool:
        """Whether the start was read, or set by the officer; else what hangs on it is marked."""
        return self.start_from is None or self.start_from in START_SURE


@dataclass(frozen=True, slots=True)
class WearerView:
    """One line of the board."""

    wearer: int
    name: str
    call_sign: str
    crew: str
    leader: bool
    pack: int | None
    phase: Phase
    under_air: bool
    state: str
    """The one word (or two) for this line: the worst alarm, else link or phase."""
    priority: Priority | None
    """Of the worst alarm on this wearer; None for a quiet line."""
    acknowledged: bool
    """False while that alarm waits for the officer."""
    state_for_ns: int
    air: AirView
    signal: Signal
    silence_ns: int | None
    """Since last heard; None if never."""
    silence_limit_ns: int | None
    """The rule in force: beyond this it is no signal."""
    motion: str
    battery_percent: int | None
    signal_dbm: int | None
    location: str
    location_at_ns: int | None
    wear_ns: int | None
    """On air for so long; None off air."""
    pre_alarms: int
    """Motion pre-alarms in this wear."""
    pack_doubted: bool = False
    """Its numbers went back: it lost its counter, or was copied. It can be enrolled again."""
    left_bar: float | None = None
    """The last that was read, by pack or voice, before going off air; None on air, or unknown."""
    frames_taken: int = 0
    """Proven frames of this pack, by its sequence numbers; copies and repetitions not counted."""
    frames_lost: int = 0
    """Missing between them."""
    frames_late: int = 0
    """Live ones that came after a newer one: taken, never shown as the present state."""
    unit: str = "bar"
    """What this wearer's gauge reads in, ``bar`` or ``psi``."""
    apparatus: str = "open circuit"
    """For any other kind there are clocks and readings, and no forecast."""
    entered_ns: int | None = None  # so long ago this wearer went in
    objective_ns: int | None = None
    """So long ago the objective was reached; None: not, or sent on since."""
    back_ns: int | None = None
    """So long ago the way back began."""
    augmented: bool = False  # breathes from another supply than the own cylinder
    crew_alarm: bool = False
    """The word is there for a mate's sake: one of the crew is in danger."""
    link_rule: str = ""
    """How long this pack may be silent, and why, in words and figures; empty without telemetry."""
    committed: bool = False
    """Of an emergency crew that is sent in: to be shown as COMMITTED."""
    coming_out_ns: int | None = None
    """So long ago the wearer's button said COMING OUT; None: not, or sent on since."""
    task: str = ""
    brief: str = ""
    communications: str = ""
    moved_to: str = ""  # the board that watches this wearer now; empty: this one
    door: str = ""  # another door by which this wearer came out
    set_id: str = ""
    cylinder_id: str = ""
    defect: str = ""  # why this set is not to be used; empty: nothing is noted


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm line."""

    number: int
    """Stable while the alarm lives; what an act names."""
    kind: str
    """Name of its row in the catalogue."""
    word: str
    """As on the screen, capitals for danger and caution."""
    priority: Priority
    state: str
    """One of the alarm states' names."""
    acknowledged: bool
    latched: bool
    """Its condition has gone but it stays until reset with a reason."""
    wearers: tuple[int, ...]
    subject: str
    """Who or what, in words."""
    crew: str
    location: str
    location_at_ns: int | None
    air: AirView | None
    mates: tuple[tuple[int, str, float | None], ...]
    """Others of the crew under air: number, name, pressure as shown."""
    raised_at_ns: int
    raised_for_ns: int
    to_do: str
    detail: str
    """The rule in words: 'silent 47 s, limit 46 s'; empty once its cause is over."""
    insistent: bool = False
    """A danger that has waited so long that it was announced again: to be written large."""
    aside_minutes_max: int = 0
    of_base: bool = False
    """About the base itself, which never comes before a person."""


@dataclass(frozen=True, slots=True)
class PutAsideView:
    """An alarm that the officer has put aside: no line of its own until its time is over."""

    number: int
    word: str
    subject: str
    wearers: tuple[int, ...]
    holds: bool
    """Its condition holds: it will wait again."""
    until_ns: int
    left_ns: int
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class OrderLineView:
    """One wearer in an order. Times are ns since the order was given; None: not so far.

    The four facts are apart: the pack has it, the wearer has pressed the button, the wearer has
    answered by voice, the wearer is out.
    """

    wearer: int
    name: str
    crew: str
    waits: bool
    """Keeps the order open: not out yet, or of a roll call or test not answered."""
    unanswered: bool
    """Neither button nor voice, and still asked: such lines stand on top."""
    committed: bool
    """Emergency crew sent in after the order: left out of it, to be shown as COMMITTED."""
    late: bool
    """Went in while the order stood."""
    sent_ns: int | None
    copies: int
    """Sent so often."""
    received_ns: int | None
    acknowledged_ns: int | None
    voice_ns: int | None
    back_ns: int | None
    """Started out; 0 for somebody who was on the way before."""
    out_ns: int | None
    telemetry: bool
    """False: only voice reaches this wearer."""
    motion: str
    air: AirView
    location: str
    location_at_ns: int | None


@dataclass(frozen=True, slots=True)
class CrewCount:
    """Of one crew in an order: "two of two"."""

    crew: str
    """Empty: those without a crew."""
    answered: int
    of: int


@dataclass(frozen=True, slots=True)
class OrderView:
    """One order, or one roll call, with everybody it covers."""

    number: int
    """What ``AnswerByVoice`` and ``CloseOrder`` name."""
    order: str
    """``evacuate``, ``come out``, ``roll call`` or ``test``."""
    say: str
    """The words to say by voice."""
    scope: str
    everybody: bool
    reason: str
    by: str
    on_order_of: str
    """Who gave it elsewhere; empty: ``by`` did."""
    given_at_ns: int
    for_ns: int
    """How long it has stood, or stood when it was closed."""
    state: Literal["open", "all answered", "all out", "closed"]
    """``closed``: by an override. An evacuation goes on from ``all answered`` to ``all out``."""
    is_open: bool
    override: str
    of: int
    """Whom it asks something of; the committed are not among them. The counts are of these."""
    received: int
    acknowledged: int
    by_voice: int
    answered: int
    """By button or by voice, each wearer once."""
    out: int
    committed: int
    lines: tuple[OrderLineView, ...]
    """Who has not answered first, then who is not out, then the others, the committed last."""
    crews: tuple[CrewCount, ...]


@dataclass(frozen=True, slots=True)
class EmergencyView:
    """A crew that stands by, or is sent in, as emergency crew."""

    crew: str
    state: Literal["ready", "committed"]
    wearers: tuple[int, ...]
    for_ns: int


@dataclass(frozen=True, slots=True)
class Sounding:
    """What waits for the officer, as far as it is heard."""

    danger_ns: int | None = None
    """When the newest danger that waits was last announced, incident time; None: none waits."""
    caution_ns: int | None = None
    """The same for cautions."""
    insistent: bool = False
    """A danger has waited so long that it was announced again."""
    silenced_ns: int = 0
    """All sound is silenced for so long still."""
    evacuate_ns: int | None = None
    """When the newest evacuation that stands was given, incident time; None: none stands."""


@dataclass(frozen=True, slots=True)
class UnjoinedView:
    """A pack heard that belongs to nobody on the board."""

    pack: int
    pressure_bar: float | None
    silence_ns: int
    signal: Signal
    lit: bool = False
    """It has just signed on, or its button was pressed: whoever stands at the door has done it."""


@dataclass(frozen=True, slots=True)
class LinkView:
    """One radio link of the base."""

    link: int
    name: str
    up: bool
    detail: str


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One start-of-use check of a set."""

    check: str
    state: Literal["passed", "by hand", "failed", "open"]
    words: str
    """What it goes by: "270 of 300 bar, at least 270"."""


@dataclass(frozen=True, slots=True)
class ChecksView:
    """The start-of-use checks of a wearer at the door."""

    wearer: int
    lines: tuple[CheckLine, ...]
    complete: bool


@dataclass(frozen=True, slots=True)
class AreaView:
    """An area, and how far it was searched."""

    area: str
    state: str
    wearers: tuple[int, ...]
    at_ns: int
    by: str


@dataclass(frozen=True, slots=True)
class ReliefView:
    """A crew that is to be relieved."""

    crew: str
    by_crew: str
    """Empty: not said."""
    due_in_ns: int
    """Negative: overdue."""


@dataclass(frozen=True, slots=True)
class DefectView:
    """A set that is not to be used."""

    set_id: str
    text: str
    since_ns: int
    by: str


@dataclass(frozen=True, slots=True)
class CylinderView:
    """A cylinder that is to be filled."""

    cylinder_id: str
    bar: float | None
    """The last reading before it came off air; None: not known."""
    from_wearer: int


@dataclass(frozen=True, slots=True)
class AfterUseView:
    """Steps of seeing to a set that nobody has seen or ticked, in their order."""

    wearer: int
    open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """Everything a display shows, at ``t``."""

    t: int
    wall_ns: int
    """What the wall clock showed then."""
    name: str
    place: str
    entry_point: str
    stage: str
    officer: str
    use: str
    keyed: bool
    procedure: str
    under_air: int
    came_out: int
    signals_heard: int
    signals_expected: int
    wearers: tuple[WearerView, ...]
    """In check-in order, by number."""
    alarms: tuple[AlarmView, ...]
    """In the order of ``alarms.ranking``."""
    unjoined: tuple[UnjoinedView, ...]
    links: tuple[LinkView, ...]
    refused: tuple[tuple[str, int], ...]
    """Frames refused so far, by reason."""
    disk: str
    """State of the disk the journal is on; "ok" when well."""
    holder: str  # in whose name the acting board acts
    closed: bool
    doubtful: tuple[tuple[str, int], ...] = ()
    """Frames let through that did not count as heard, by standing (``rows.Standing`` name)."""
    put_aside: tuple[PutAsideView, ...] = ()  # the first to come back first; always in view
    pressure_unit: str = "bar"
    """``bar`` or ``psi``, as the procedure has it: what a display shows pressures in."""
    sound: str = ""
    """How alarms are sounded: state of ``events.SoundState``; empty: nobody has said."""
    sounding: Sounding = Sounding()
    orders: tuple[OrderView, ...] = ()
    """Open ones, the most urgent first, then those closed within the last ten minutes."""
    emergency: tuple[EmergencyView, ...] = ()
    """None: nobody stands by."""
    to_account_for: int = 0
    """Whom a roll call of everybody would ask: all under air, and whom evacuations brought out."""
    roll_call_in_ns: int | None = None
    """Until a roll call is due, negative: so long ago; None: none will be, or one is open."""
    operation: str = ""  # what joins it with the incidents of other entry points
    not_on_disk_ns: int | None = None
    """For how long nothing has come into the journal; None: all of it is there, or soon will be."""
    paused: bool = False  # an exercise stands still, and its time with it
    checks: tuple[ChecksView, ...] = ()  # of those who are checked in and have not entered
    areas: tuple[AreaView, ...] = ()
    reliefs: tuple[ReliefView, ...] = ()
    defects: tuple[DefectView, ...] = ()
    to_fill: tuple[CylinderView, ...] = ()
    after_use: tuple[AfterUseView, ...] = ()
    undo: UndoView | None = None
