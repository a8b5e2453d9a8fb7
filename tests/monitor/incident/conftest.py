"""A story: an incident told event by event, with the answers asked of it in between."""

from itertools import count
from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.events import Done, Event, Heard, Opened
from monitor.incident.incident import Incident
from monitor.incident.picture import AlarmView, Picture, WearerView
from monitor.incident.procedure import Procedure
from monitor.incident.rows import Standing
from protocol.packets import (
    Apparatus,
    CheckResult,
    Equipment,
    Kind,
    Motion,
    Receipt,
    ReceiptKind,
    Report,
)

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
EQUIPMENT = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
"""A 6.8 L cylinder for 300 bar; the set does not tell its own low-air value."""
PROCEDURE = Procedure(
    name="trial",
    title="Trial rules",
    low_air_fraction=0.35,
    silence_limit_s=90,
    pre_alarm_silence_s=15,
    gas_temperature_c=30,
    projection_rate_l_min=100,
    spoken_reading_valid_s=600,
    turn_back_rule="none",
    lone_entrant_allowed=True,
    standby=0,
    least_fill_fraction=None,
)
"""No rule for turning back and no least fill: a story that is about them has its own rules."""


def opened(procedure: Procedure = PROCEDURE) -> Opened:
    return Opened(
        incident="0" * 32,
        name="Kiln Lane",
        entry_point="A",
        officer="R. Harrow",
        use="exercise",
        procedure=procedure,
        keyed=True,
        base=1,
        wall_ns=WALL_NS,
        software="test",
        fold=1,
    )


def report(identity: int, sequence: int, **fields: Any) -> Report:
    """A status as from a pack that is well; ``fields`` say what is not."""
    usual: dict[str, Any] = {
        "kind": Kind.STATUS,
        "boot": 1,
        "epoch": 1,
        "keyed": True,
        "pressure_dbar": 2900,
        "gas_temperature_c": None,
        "battery_percent": 90,
        "motion": Motion.MOVING,
        "distress": False,
        "low_air": False,
        "coming_out": False,
        "self_test": CheckResult.PASSED,
        "air_warning_test": CheckResult.PASSED,
        "motion_warning_test": CheckResult.PASSED,
        "interval_s": 5,
        "uptime_ms": 5_000 * sequence,
        "order_received": 0,
        "order_acknowledged": 0,
        "beacon_heard": 9,
    }
    return Report(identity=identity, sequence=sequence, **{**usual, **fields})


class Story:
    """Tells an incident and keeps its events."""

    def __init__(self, procedure: Procedure = PROCEDURE) -> None:
        self.incident = Incident()
        self.events: list[Event] = []
        self.sequences: dict[int, int] = {}
        self._ids = count(1)
        self.do(0, opened(procedure))

    # ------------------------------------------------------------ telling

    def tell(self, event: Event) -> None:
        self.events.append(event)
        self.incident.apply(event)

    def do(self, t: int, what: events.Act | events.Fact) -> None:
        self.tell(Done(t, what))

    def make(self, act: Any, **fields: Any) -> Any:
        """An act of the officer, not done yet."""
        fields.setdefault("id", f"act-{next(self._ids):06}")
        return act(by="R. Harrow", **fields)

    def act(self, t: int, act: Any, **fields: Any) -> str | None:
        """Ask, then do; gives the reason if it is refused."""
        made = self.make(act, **fields)
        why = self.incident.would_refuse(made, t)
        self.do(t, made)
        return why

    def hear(
        self,
        t: int,
        identity: int = 101,
        standing: Standing = Standing.LIVE,
        *,
        sequence: int | None = None,
        **fields: Any,
    ) -> None:
        if sequence is None:
            sequence = self.sequences.get(identity, 0) + 1
        self.sequences[identity] = max(sequence, self.sequences.get(identity, 0))
        packet = report(identity, sequence, **fields)
        self.tell(Heard(t, packet, standing, 1, 0, -60))

    def hear_receipt(
        self,
        t: int,
        identity: int = 101,
        answer: ReceiptKind = ReceiptKind.RECEIVED,
        order: int = 3,
        *,
        sequence: int | None = None,
        boot: int = 1,
        standing: Standing = Standing.LIVE,
    ) -> None:
        if sequence is None:
            sequence = self.sequences.get(identity, 0) + 1
            self.sequences[identity] = sequence
        receipt = Receipt(identity, boot, sequence, 1, True, answer, order, 1_000, 9)
        self.tell(Heard(t, receipt, standing, 1, 0, None))

    def list_and_join(self, wearer: int = 1, pack: int | None = 101, crew: str = "Alpha 1") -> None:
        self.act(
            self.now,
            events.ListWearer,
            wearer=wearer,
            name=f"Wearer {wearer}",
            call_sign=f"Alpha {wearer}",
            crew=crew,
        )
        self.act(self.now, events.JoinPack, wearer=wearer, pack=pack)

    def connect(self, *wearers: int, **fields: Any) -> None:
        self.act(self.now, events.Connect, wearers=wearers or (1,), **fields)

    def enter(self, *wearers: int) -> None:
        """Check in if need be, sign on, connect and enter, all at the present instant."""
        for wearer in wearers or (1,):
            if not any(w.wearer == wearer for w in self.picture().wearers):
                self.list_and_join(wearer, 100 + wearer)
            self.hear(self.now, 100 + wearer, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
        self.connect(*wearers)
        self.act(self.now, events.Enter, wearers=wearers or (1,), location="floor 2")

    # ------------------------------------------------------------ asking

    @property
    def now(self) -> int:
        return self.incident.now

    def picture(self, t: int | None = None) -> Picture:
        if t is not None:
            self.incident.advance(t)
        return self.incident.picture()

    def line(self, wearer: int = 1, t: int | None = None) -> WearerView:
        return next(w for w in self.picture(t).wearers if w.wearer == wearer)

    def alarms(self, t: int | None = None) -> list[str]:
        return [alarm.kind for alarm in self.picture(t).alarms]

    def alarm(self, kind: str, t: int | None = None) -> AlarmView:
        """The only alarm of this kind."""
        (found,) = [alarm for alarm in self.picture(t).alarms if alarm.kind == kind]
        return found

    def take(self, kind: str) -> str | None:
        """Acknowledge the alarm of this kind now."""
        return self.act(self.now, events.Acknowledge, alarms=(self.alarm(kind).number,))


@pytest.fixture
def story() -> Story:
    """An incident just opened, at time 0."""
    return Story()


@pytest.fixture(scope="session")
def new_story() -> type[Story]:
    """For a test that needs several, or other rules."""
    return Story
