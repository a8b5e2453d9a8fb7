"""What a key can bring about: an act for the recorder, something of the screen, or a word. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from monitor.incident.events import (
    Acknowledge,
    Act,
    AugmentSupply,
    ComeOut,
    Connect,
    Enter,
    NewObjective,
    OffAir,
    PutAside,
    ReachObjective,
    Reset,
    Silence,
    SpokenReading,
    StartBack,
    TakeBack,
    act_adapter,
)
from monitor.incident.orders.events import (
    AnswerByVoice,
    CloseOrder,
    EmergencyCrew,
    GiveOrder,
    OrderName,
)

Step = Literal[
    "connect",
    "enter",
    "objective",
    "new objective",
    "start back",
    "other supply",
    "own supply",
    "out",
    "off air",
]
CrewState = Literal["ready", "committed", "stood down"]
ScreenCommand = Literal[
    "theme", "sort", "help", "leave", "leave and stop", "take board", "record again"
]


@dataclass(frozen=True, slots=True)
class TakeAlarms:
    """Acknowledge these alarms."""

    alarms: tuple[int, ...]
    subject: str


@dataclass(frozen=True, slots=True)
class ResetAlarm:
    """Let a latched alarm go, for a stated reason."""

    alarm: int
    reason: str
    subject: str


@dataclass(frozen=True, slots=True)
class SilenceSound:
    """Silence all sound for so long."""

    seconds: int
    subject: str


@dataclass(frozen=True, slots=True)
class PutAsideAlarm:
    """Take a caution or notice off the alarm lines for a time, for a stated reason."""

    alarm: int
    minutes: int
    reason: str
    subject: str


@dataclass(frozen=True, slots=True)
class TakeBackAlarm:
    """Let an alarm that was put aside come back."""

    alarm: int
    subject: str


@dataclass(frozen=True, slots=True)
class Move:
    """A wearer's next step through a wear."""

    step: Step
    wearers: tuple[int, ...]
    subject: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A gauge reading by voice."""

    wearers: tuple[int, ...]
    pressure_bar: float
    subject: str
    lowest: bool = False
    """The lowest of these wearers' gauges, and not said whose."""


@dataclass(frozen=True, slots=True)
class GiveAnOrder:
    """Give an order: it goes to packs until they have it and their wearers have answered."""

    order: OrderName
    wearers: tuple[int, ...]
    """Empty: everybody."""
    scope: str
    reason: str
    on_order_of: str
    subject: str


@dataclass(frozen=True, slots=True)
class AnswerForThem:
    """These have answered an order by voice."""

    order: int
    wearers: tuple[int, ...]
    subject: str


@dataclass(frozen=True, slots=True)
class CloseAnOrder:
    """End an order, whoever is still open in it, for a stated reason."""

    order: int
    override: str
    subject: str


@dataclass(frozen=True, slots=True)
class EmergencyState:
    """A crew is ready as emergency crew, is sent in as such, or is one no more."""

    crew: str
    state: CrewState
    subject: str


@dataclass(frozen=True, slots=True)
class WriteAct:
    """Note something: an act by its name and fields. What sheets make, and most typed commands."""

    fields: Mapping[str, object]
    """As the act's model has them, without who asks for it."""
    subject: str


@dataclass(frozen=True, slots=True)
class Say:
    """Nothing is done; say why."""

    words: str


@dataclass(frozen=True, slots=True)
class Command:
    """Something of the screen itself."""

    does: ScreenCommand


Ordering = GiveAnOrder | AnswerForThem | CloseAnOrder | EmergencyState
Asking = (
    TakeAlarms
    | ResetAlarm
    | PutAsideAlarm
    | TakeBackAlarm
    | SilenceSound
    | Move
    | Reading
    | Ordering
    | WriteAct
)
"""Effects that become an act."""
Effect = Asking | Say | Command


def act_of(effect: Asking, act_id: str, by: str, seen_ns: int) -> Act:
    """Make the act; ``seen_ns`` is the horizon of the picture that the officer looked at."""
    who = {"id": act_id, "by": by, "seen_ns": seen_ns}
    match effect:
        case TakeAlarms():
            return Acknowledge.model_validate({**who, "alarms": effect.alarms})
        case ResetAlarm():
            return Reset.model_validate({**who, "alarm": effect.alarm, "reason": effect.reason})
        case SilenceSound():
            return Silence.model_validate({**who, "seconds": effect.seconds})
        case PutAsideAlarm():
            aside = {"alarm": effect.alarm, "minutes": effect.minutes, "reason": effect.reason}
            return PutAside.model_validate({**who, **aside})
        case TakeBackAlarm():
            return TakeBack.model_validate({**who, "alarm": effect.alarm})
        case Reading():
            return SpokenReading.model_validate(
                {
                    **who,
                    "wearers": effect.wearers,
                    "pressure_bar": effect.pressure_bar,
                    "lowest": effect.lowest,
                }
            )
        case Move():
            kind, more = _STEPS[effect.step]
            return kind.model_validate({**who, "wearers": effect.wearers, **more})
        case WriteAct():
            return act_adapter.validate_python({**who, **effect.fields})
    return _order_act(effect, who)


def _order_act(effect: Ordering, who: dict[str, object]) -> Act:
    match effect:
        case GiveAnOrder():
            given = {
                "order": effect.order,
                "wearers": effect.wearers,
                "everybody": not effect.wearers,
                "scope": effect.scope,
                "reason": effect.reason,
                "on_order_of": effect.on_order_of,
            }
            return GiveOrder.model_validate({**who, **given})
        case AnswerForThem():
            answer = {"order": effect.order, "wearers": effect.wearers}
            return AnswerByVoice.model_validate({**who, **answer})
        case CloseAnOrder():
            close = {"order": effect.order, "override": effect.override}
            return CloseOrder.model_validate({**who, **close})
        case EmergencyState():
            crew = {"crew": effect.crew, "state": effect.state}
            return EmergencyCrew.model_validate({**who, **crew})


_Moving = (
    Connect | Enter | ReachObjective | NewObjective | StartBack | AugmentSupply | ComeOut | OffAir
)
_STEPS: dict[Step, tuple[type[_Moving], dict[str, bool]]] = {
    "connect": (Connect, {}),
    "enter": (Enter, {}),
    "objective": (ReachObjective, {}),
    "new objective": (NewObjective, {}),
    "start back": (StartBack, {}),
    "other supply": (AugmentSupply, {"on": True}),
    "own supply": (AugmentSupply, {"on": False}),
    "out": (ComeOut, {}),
    "off air": (OffAir, {}),
}
