"""Everything that can happen to an incident.

Three families: a frame heard from a pack, an act of an officer, a fact the base noticed about
itself. Acts and facts come from people, files and other processes, so they are validated models;
frames are on the hot path, so they are plain slotted objects.

Times inside events are incident time in ns. ``wearer`` is always the number on the board.
"""

from dataclasses import dataclass
from typing import Annotated, Literal, TypeGuard

from pydantic import Field, TypeAdapter

from monitor.incident.alarms.entry import ASIDE_MINUTES_MAX
from monitor.incident.base_power import BasePower
from monitor.incident.event_parts import (
    RATED_MAX_BAR,
    WATER_VOLUME_MAX_L,
    Hex,
    Identity,
    Name,
    Ns,
    Number,
    PressureBar,
    Said,
    ShortName,
    Text,
    WearerNumber,
)
from monitor.incident.event_parts import EventModel as _Model
from monitor.incident.event_parts import OfficersAct as _Act
from monitor.incident.orders.events import (
    AnswerByVoice,
    CloseOrder,
    EmergencyCrew,
    GiveOrder,
    OrdersSent,
)
from monitor.incident.procedure import Procedure
from monitor.incident.record.events import RecordAct
from monitor.incident.rows import Standing
from monitor.incident.second_place import SecondPlace
from monitor.incident.signed import Signed
from monitor.incident.still_heard import Thinned
from protocol.packets import UpPacket

LINKS_SET_UP_MAX = 64
"""More than settings allow."""
PLACE_MAX = 4_096
"""Characters in the path of a file: the longest that Linux takes."""
SILENCE_S = 60
"""How long a key on the board silences the sound."""
SILENCE_S_MAX = 120
"""Of one silence: a longer one would be forgotten, and be for good."""
EVACUATION_CYCLES_MAX = 3
"""Of the evacuation tone, heard at the base: the most that settings allow."""

Place = Annotated[str, Field(max_length=PLACE_MAX, pattern=r"^[^\x00]*$")]
"""The path of a file, or whatever else a person writes to say where or how."""


@dataclass(slots=True)
class Heard:
    """A frame the recorder let through, understood."""

    t: int
    packet: UpPacket
    standing: Standing
    link: int
    late_ns: int
    signal_dbm: int | None


# ---------------------------------------------------------------- acts


class ListWearer(_Act):
    """Put a person on the board, in the next free place. Numbers never move."""

    what: Literal["list_wearer"] = "list_wearer"
    wearer: WearerNumber
    name: Name
    call_sign: ShortName = ""
    crew: ShortName = ""
    leader: bool = False


class JoinPack(_Act):
    """Join a pack, and the cylinder on it, to a wearer. ``pack`` None: no telemetry."""

    what: Literal["join_pack"] = "join_pack"
    wearer: WearerNumber
    pack: Identity | None = None
    water_volume_l: float | None = Field(default=None, gt=0, le=WATER_VOLUME_MAX_L)
    """Overrides what the pack says; needed for a wearer without telemetry."""
    rated_bar: float | None = Field(default=None, gt=0, le=RATED_MAX_BAR)
    apparatus: Literal["", "open circuit", "closed circuit", "airline"] = ""
    """Empty: as the pack tells, else open circuit."""
    gauge_unit: Literal["", "bar", "psi"] = ""
    """What the wearer's own gauge reads in; empty: as the procedure has it."""
    set_id: ShortName = ""
    """As printed on the set; empty: it goes by its pack, or its wearer."""
    cylinder_id: ShortName = ""
    """As printed on the cylinder."""
    expected: bool = False
    """From a roster: the set is theirs, but nobody has seen them yet. They are checked in once the
    pack is heard live, or by the officer."""


class SetCrew(_Act):
    """Put a wearer into a crew, or out of any (an empty name)."""

    what: Literal["set_crew"] = "set_crew"
    wearer: WearerNumber
    crew: ShortName
    leader: bool = False


class Connect(_Act):
    """The wearer has connected to air: the clocks run from here. Starts a new wear."""

    what: Literal["connect"] = "connect"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    pressure_bar: PressureBar | None = None
    at_ns: Ns | None = None
    """When it really was, if earlier."""


class Enter(_Act):
    """The wearer has gone into the hazard."""

    what: Literal["enter"] = "enter"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    location: Text = ""
    task: Text = ""
    brief: Text = ""
    communications: Text = ""
    at_ns: Ns | None = None


class Locate(_Act):
    """Where the wearer now is, as last told."""

    what: Literal["locate"] = "locate"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    location: Text


class ComeOut(_Act):
    """The wearer is out of the hazard; still on air until ``OffAir``."""

    what: Literal["come_out"] = "come_out"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    door: Text = ""
    """By which other door than this board's; empty: this one."""
    at_ns: Ns | None = None


class OffAir(_Act):
    """No longer breathing from the set: ends the wear."""

    what: Literal["off_air"] = "off_air"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    at_ns: Ns | None = None


class SpokenReading(_Act):
    """A gauge reading given by voice."""

    what: Literal["spoken_reading"] = "spoken_reading"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    pressure_bar: PressureBar
    location: Text = ""
    lowest: bool = False
    """It is the lowest of these wearers' gauges, and not said whose."""


class AmendStart(_Act):
    """What the gauge read at connecting, told later or put right. Turn-back goes by it."""

    what: Literal["amend_start"] = "amend_start"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    pressure_bar: PressureBar


class TrustGauge(_Act):
    """Of a pack and a reading by voice that contradict each other, this one counts."""

    what: Literal["trust_gauge"] = "trust_gauge"
    wearer: WearerNumber
    counts: Literal["pack", "voice"]
    """``voice``: the pressure that the pack tells is left out until another is said."""


class ReachObjective(_Act):
    """The wearers are where they were sent: the way in ends here."""

    what: Literal["reach_objective"] = "reach_objective"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    pressure_bar: PressureBar | None = None
    """As they told it; None: the reading that governs."""
    at_ns: Ns | None = None


class NewObjective(_Act):
    """They are sent on: the way in goes on until they reach that."""

    what: Literal["new_objective"] = "new_objective"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    location: Text = ""


class StartBack(_Act):
    """They have begun the way back: start of withdrawal."""

    what: Literal["start_back"] = "start_back"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    at_ns: Ns | None = None


class AugmentSupply(_Act):
    """They breathe from another supply than their own cylinder (``on``), or no longer do."""

    what: Literal["augment_supply"] = "augment_supply"
    wearers: tuple[WearerNumber, ...] = Field(min_length=1)
    on: bool = True


class PutAside(_Act):
    """Take a caution or notice off the alarm lines for a time, for a stated reason.

    It comes back by itself: when the time is over, when it worsens, when its wearer goes off air
    or changes packs.
    """

    what: Literal["put_aside"] = "put_aside"
    alarm: Number
    minutes: int = Field(ge=1, le=ASIDE_MINUTES_MAX)
    reason: Annotated[Text, Field(min_length=1)]


class TakeBack(_Act):
    """Put an alarm that was put aside back among the lines, if its condition holds."""

    what: Literal["take_back"] = "take_back"
    alarm: Number


class Acknowledge(_Act):
    """The officer has taken one alarm, or several cautions that were in view together."""

    what: Literal["acknowledge"] = "acknowledge"
    alarms: tuple[Number, ...] = Field(min_length=1, max_length=50)
    """Alarm numbers as on the screen."""


class Reset(_Act):
    """Let go of a latched alarm whose condition has gone, for a stated reason."""

    what: Literal["reset"] = "reset"
    alarm: Number
    reason: Annotated[Text, Field(min_length=1)]


class Silence(_Act):
    """Silence all sound for a short time. A new danger ends it at once."""

    what: Literal["silence"] = "silence"
    seconds: int = Field(default=SILENCE_S, ge=1, le=86_400)
    """More than ``SILENCE_S_MAX`` is refused: sound is never off for good."""


class EnrolAgain(_Act):
    """Accept a pack whose counters went back as genuine from here on."""

    what: Literal["enrol_again"] = "enrol_again"
    pack: Identity


class Note(_Act):
    """A remark for the record."""

    what: Literal["note"] = "note"
    text: Annotated[Text, Field(min_length=1)]
    wearer: WearerNumber | None = None


class Close(_Act):
    """End the incident. Refused while anybody is under air unless ``override`` says why."""

    what: Literal["close"] = "close"
    override: Text = ""


Act = Annotated[
    GiveOrder | AnswerByVoice | CloseOrder | EmergencyCrew | RecordAct
    | PutAside | TakeBack
    | ListWearer | JoinPack | SetCrew | Connect | Enter | Locate | ComeOut | OffAir | SpokenReading
    | AmendStart | TrustGauge | ReachObjective | NewObjective | StartBack | AugmentSupply
    | Acknowledge | Reset | Silence | EnrolAgain | Note | Close,
    Field(discriminator="what"),
]  # fmt: skip
act_adapter: TypeAdapter[Act] = TypeAdapter(Act)


# ---------------------------------------------------------------- facts


class Opened(_Model):
    """First row of every journal."""

    what: Literal["opened"] = "opened"
    incident: Text
    """Unique, UUID hex."""
    name: Name
    place: Text = ""
    entry_point: Text = ""
    operation: Text = ""
    """Joins the incidents of several entry points; empty: this one stands alone."""
    stage: Text = ""
    officer: Name
    use: Literal["exercise", "real"]
    procedure: Procedure
    keyed: bool
    """False: open mode, frames prove nothing of their origin. Shown always."""
    base: Identity
    wall_ns: Ns
    software: Text
    fold: Number
    clock_checked: bool = False
    """The officer has said that the clock was checked against control."""


class Resumed(_Model):
    """The recorder is back after ``down_ns`` in which nobody listened.

    Its row stands at the start of that time, which ends at the row's time and ``down_ns``.
    """

    what: Literal["resumed"] = "resumed"
    down_ns: Annotated[Ns, Field(ge=0)]
    known_by: Literal["boot clock", "wall clock", "pack uptime", "unknown"]
    wall_ns: Ns
    """What the wall clock shows at the end of that time."""


class Setup(_Model):
    """What the recorder runs with from here on, so that whoever takes it up goes on with the same.

    Where the key file is, and never a key.
    """

    what: Literal["setup"] = "setup"
    links: tuple[Place, ...] = Field(max_length=LINKS_SET_UP_MAX)
    """As a person writes them; their numbers are their places, from 1."""
    key: Place = ""
    """Full path of the key file; empty: open mode."""
    key_fault: Said = ""
    """Why the keys that the incident was opened with cannot be had; empty: they are there."""
    sound: Place = "auto"
    evacuation_tone: int = Field(default=0, ge=0, le=EVACUATION_CYCLES_MAX)
    """Cycles heard at the base."""
    incidents_folder: Place = ""
    """Full path: what the base remembers from one incident to the next is there."""


class Stall(_Model):
    """The recorder itself did not run from ``from_ns`` to ``to_ns``; no pack is to blame.

    ``from_ns`` is never before the last horizon: what was said up to there stands.
    """

    what: Literal["stall"] = "stall"
    from_ns: Ns
    to_ns: Ns


class TimeMoved(_Model):
    """Incident time was found to be too early and jumps forward by ``by_ns``.

    Its row stands before the jump, at the start of the time that had been left out.
    """

    what: Literal["time_moved"] = "time_moved"
    by_ns: Annotated[Ns, Field(ge=0)]
    known_by: Literal["pack uptime"]


class WentOn(_Model):
    """An exercise that was paused goes on; incident time has stood still for so long."""

    what: Literal["went_on"] = "went_on"
    stood_ns: Annotated[Ns, Field(ge=0)]
    wall_ns: Ns
    """What the wall clock shows now."""


class ClockStep(_Model):
    """The wall clock was set; incident time is not touched."""

    what: Literal["clock_step"] = "clock_step"
    by_ns: Ns
    wall_ns: Ns


class LinkState(_Model):
    """A link opened, failed, or says what it was granted."""

    what: Literal["link_state"] = "link_state"
    link: int = Field(ge=1)
    name: Said
    """As a person knows it: ``udp 127.0.0.1:41900``, ``serial /dev/...``."""
    up: bool
    detail: Said = ""
    lost: int = Field(default=0, ge=0)
    """Packets that this machine lost since the link was opened, unread: it was too busy."""


class Refused(_Model):
    """Frames not let through since the last such row, counted by reason."""

    what: Literal["refused"] = "refused"
    link: Number
    counts: dict[Name, Number]
    """Reason (``protocol.rejects.Reject`` name) to number of frames."""
    samples: tuple[Hex, ...] = ()
    """A few of them in hex, for diagnosis; never all, a flood must not fill the disk."""


class DiskState(_Model):
    """The disk that the journal is on is in another state than before."""

    what: Literal["disk_state"] = "disk_state"
    state: Literal["ok", "behind", "low", "full", "waiting", "failing", "gone"]
    """``behind``: syncs are slow; ``low``: no room for the reserve; ``full``: the reserve is in
    use; ``waiting``: commits take longer than 2 s, or for ever; ``failing``: commits or syncs
    fail; ``gone``: the file is not there any more, or is not as it was written."""
    detail: Said = ""
    since_ns: int | None = None
    """Incident time of the oldest row that is not in the journal; None: all are, or soon are."""


class SoundState(_Model):
    """How alarms are sounded is another way than before."""

    what: Literal["sound_state"] = "sound_state"
    state: Literal["player", "bell", "off", "missing", "failing"]
    """``player``: by the recorder; ``bell``, ``off``: as it was asked for, by the boards' bell or
    not at all; ``missing``, ``failing``: the recorder cannot, so the boards ring their bell."""
    detail: Said = ""


class PackClock(_Model):
    """A pack's clock is wrong by at least so much, by the beacons that it has answered with."""

    what: Literal["pack_clock"] = "pack_clock"
    pack: Identity
    ppm: int
    """Too slow; negative: too fast. Parts in a million."""


class BoardsAlive(_Model):
    """Whether any board has drawn within the last few seconds."""

    what: Literal["boards_alive"] = "boards_alive"
    alive: bool


class Holder(_Model):
    """Which board may act, and in whose name; ``by`` empty: none."""

    what: Literal["holder"] = "holder"
    board: Text
    by: Text


Fact = Annotated[
    Opened | Resumed | Setup | Stall | TimeMoved | ClockStep | LinkState | Refused | DiskState
    | SecondPlace | BasePower | SoundState | BoardsAlive | Holder | PackClock | OrdersSent | WentOn
    | Thinned | Signed,
    Field(discriminator="what"),
]  # fmt: skip
fact_adapter: TypeAdapter[Fact] = TypeAdapter(Fact)


@dataclass(slots=True)
class Done:
    """An act or fact with the time of its row."""

    t: int
    what: Act | Fact


Event = Heard | Done


def is_act(what: Act | Fact) -> TypeGuard[Act]:
    """Tell an officer's act from a fact that the base noticed."""
    return isinstance(what, _Act)
