"""An invented scene, Kiln Lane, as pictures made by hand; and fakes for what a board stands on."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC
from typing import Any, Literal

import pytest

from monitor import procedures
from monitor.board.keys.sheet_hands import Aids
from monitor.board.sheets.opening import Offer
from monitor.board.terminal.app import BoardApp, BoardOptions
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import UNICODE, Glyphs, Look
from monitor.clock import Clock
from monitor.desk import NotTaken, Role, Stopping, Taken
from monitor.desk_client import Answer
from monitor.errors import BadFile
from monitor.incident.air.detail import AirDetail, FanPoint, Mark, Rule
from monitor.incident.events import Act
from monitor.incident.picture import (
    AirFrom,
    AirView,
    AlarmView,
    CrewCount,
    EmergencyView,
    LinkView,
    NextMark,
    OrderLineView,
    OrderView,
    Phase,
    Picture,
    Priority,
    PutAsideView,
    Signal,
    Sounding,
    UnjoinedView,
    WearerView,
)
from monitor.incident.procedure import Procedure

S = 1_000_000_000
T = 1_500 * S
WALL = 1_741_962_727 * S
"""2025-03-14 14:32:07 UTC."""
RATED_BAR = 300.0


LOW_BAR = 105.0
TURN_BAR = 142.1


def mark(bar: float, *, estimate: bool) -> NextMark:
    """What comes next at 47 L/min from a 6.8 L cylinder by plain p x V: 0.115 bar a second."""
    target: Literal["turn", "low", "empty"] = "empty"
    at = 0.0
    if bar > LOW_BAR:
        target, at = ("turn", TURN_BAR) if bar > TURN_BAR else ("low", LOW_BAR)
    return NextMark(target, int((bar - at) / 0.115), "F", estimate)


def air(bar: float | None, source: AirFrom = AirFrom.TELEMETRY, age_s: float = 1) -> AirView:
    """Air of a 6.8 L cylinder; litres as plain p x V, since a display only prints them."""
    estimate = source is AirFrom.ESTIMATE
    return AirView(
        source=AirFrom.NOWHERE if bar is None else source,
        pressure_bar=bar,
        fraction=None if bar is None else bar / RATED_BAR,
        contents_l=None if bar is None else bar * 6.8,
        reading_bar=bar,
        reading_age_ns=None if bar is None else round(age_s * S),
        low_air_bar=LOW_BAR,
        rated_bar=RATED_BAR,
        rate_l_min=None if bar is None else 46.2,
        rate_mean_l_min=None if bar is None else 50.9,
        next=None if bar is None else mark(bar, estimate=estimate),
        turn_bar=TURN_BAR,
    )


def wearer(number: int, bar: float | None = 200, **changes: object) -> WearerView:
    """A quiet wearer under air; four crews of two, Alpha 1 to 4."""
    crew = (number + 1) // 2
    plain = WearerView(
        wearer=number,
        name=f"Wearer {number}",
        call_sign=f"Alpha {crew}-{2 - number % 2}",
        crew=f"Alpha {crew}",
        leader=bool(number % 2),
        pack=4710 + number,
        phase=Phase.ENTERED,
        under_air=True,
        state="ok",
        priority=None,
        acknowledged=True,
        state_for_ns=300 * S,
        air=air(bar),
        signal=Signal.HEARD,
        silence_ns=S,
        silence_limit_ns=46 * S,
        motion="moving",
        battery_percent=80,
        signal_dbm=-71,
        location="",
        location_at_ns=None,
        wear_ns=1_080 * S,
        pre_alarms=0,
        frames_taken=290,
        frames_lost=10,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def alarm(number: int, who: WearerView, word: str, **changes: object) -> AlarmView:
    """A danger on one wearer, new."""
    plain = AlarmView(
        number=number,
        kind=word.casefold().replace(" ", "_"),
        word=word,
        priority=Priority.DANGER,
        state="unacknowledged",
        acknowledged=False,
        latched=False,
        wearers=(who.wearer,),
        subject=f"{who.wearer} {who.call_sign}",
        crew=who.crew,
        location=who.location,
        location_at_ns=who.location_at_ns,
        air=who.air,
        mates=(),
        raised_at_ns=T - who.state_for_ns,
        raised_for_ns=who.state_for_ns,
        to_do="call the crew; emergency crew; tell command",
        detail="",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def sounding(alarms: tuple[AlarmView, ...]) -> Sounding:
    """What of these is heard."""

    def newest(priority: Priority) -> int | None:
        waits = [a.raised_at_ns for a in alarms if a.priority is priority and not a.acknowledged]
        return max(waits, default=None)

    return Sounding(newest(Priority.DANGER), newest(Priority.CAUTION))


def picture(
    wearers: tuple[WearerView, ...], alarms: tuple[AlarmView, ...] = (), **changes: object
) -> Picture:
    """Kiln Lane, an exercise, keyed, one link."""
    under_air = sum(1 for w in wearers if w.under_air)
    plain = Picture(
        t=T,
        wall_ns=WALL,
        name="Kiln Lane",
        place="brick works",
        entry_point="A",
        stage="1",
        officer="R. Harrow",
        use="exercise",
        keyed=True,
        procedure="plain",
        under_air=under_air,
        came_out=0,
        signals_heard=sum(1 for w in wearers if w.signal is Signal.HEARD),
        signals_expected=len(wearers),
        wearers=wearers,
        alarms=alarms,
        unjoined=(),
        links=(LinkView(1, "udp 0.0.0.0:41900", up=True, detail=""),),
        refused=(),
        disk="ok",
        holder="R. Harrow",
        closed=False,
        sound="player",
        sounding=sounding(alarms),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def quiet_scene() -> Picture:
    """Eight wearers in four crews, nothing wrong."""
    bars = (188, 195, 233, 201, 159, 148, 207, 212)
    return picture(tuple(wearer(n, bar) for n, bar in enumerate(bars, 1)))


def trouble_scene() -> Picture:
    """A motion alarm, low air, a wearer out of signal, a low pack battery."""
    quiet = quiet_scene().wearers
    down = replace(
        quiet[3],
        state="MOTION ALARM",
        priority=Priority.DANGER,
        acknowledged=False,
        state_for_ns=34 * S,
        air=air(147),
        silence_ns=2 * S,
        location="stairs, floor 2",
        location_at_ns=T - 780 * S,
    )
    low = replace(
        quiet[7],
        state="LOW AIR",
        priority=Priority.DANGER,
        acknowledged=True,
        state_for_ns=9 * S,
        air=air(52.9),
        location="floor 1",
        location_at_ns=T - 420 * S,
    )
    lost = replace(
        quiet[5],
        state="NO SIGNAL",
        priority=Priority.CAUTION,
        acknowledged=False,
        state_for_ns=27 * S,
        air=air(201, AirFrom.ESTIMATE, age_s=72),
        signal=Signal.LOST,
        silence_ns=72 * S,
    )
    mate = replace(quiet[2], state="crew alarm", crew_alarm=True, state_for_ns=34 * S)
    lows_mate = replace(quiet[6], state="crew alarm", crew_alarm=True, state_for_ns=9 * S)
    wearers = (*quiet[:2], mate, down, quiet[4], lost, lows_mate, low)
    alarms = (
        alarm(3, down, "MOTION ALARM", mates=((3, "Alpha 2-1", 233.0),)),
        alarm(
            4,
            low,
            "LOW AIR",
            acknowledged=True,
            state="acknowledged",
            to_do="crew out now; confirm they are moving",
            mates=((7, "Alpha 4-1", 207.0),),
        ),
        alarm(
            5,
            lost,
            "NO SIGNAL",
            priority=Priority.CAUTION,
            to_do="call; note the gauge reading",
            detail="silent 72 s, limit 46 s",
            aside_minutes_max=30,
        ),
    )
    unjoined = (UnjoinedView(4799, 203.0, 2 * S, Signal.HEARD),)
    return picture(wearers, alarms, keyed=False, unjoined=unjoined, came_out=3)


def put_aside(number: int, word: str, subject: str, left_s: int = 600) -> PutAsideView:
    """An alarm that the officer has put aside, and that still holds."""
    return PutAsideView(
        number=number,
        word=word,
        subject=subject,
        wearers=(),
        holds=True,
        until_ns=T + left_s * S,
        left_ns=left_s * S,
        by="R. Harrow",
        reason="crew told",
    )


def order_line(who: WearerView, **changes: object) -> OrderLineView:
    """Somebody whose pack has not got the order, 12 copies after 34 s."""
    plain = OrderLineView(
        wearer=who.wearer,
        name=who.call_sign,
        crew=who.crew,
        waits=True,
        unanswered=True,
        committed=False,
        late=False,
        sent_ns=0,
        copies=12,
        received_ns=None,
        acknowledged_ns=None,
        voice_ns=None,
        back_ns=None,
        out_ns=None,
        telemetry=who.pack is not None,
        motion=who.motion,
        air=who.air,
        location=who.location,
        location_at_ns=who.location_at_ns,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def order_view(lines: tuple[OrderLineView, ...], **changes: object) -> OrderView:
    """An evacuation of everybody that has stood for 34 s; counts are those of its lines."""
    asked = [line for line in lines if not line.committed]

    def answered(line: OrderLineView) -> bool:
        return line.acknowledged_ns is not None or line.voice_ns is not None

    crews: dict[str, list[OrderLineView]] = {}
    for line in asked:
        crews.setdefault(line.crew, []).append(line)
    plain = OrderView(
        number=1,
        order="evacuate",
        say="Evacuate, evacuate, evacuate. Everybody: come out now. Acknowledge.",
        scope="everybody",
        everybody=True,
        reason="",
        by="R. Harrow",
        on_order_of="",
        given_at_ns=T - 34 * S,
        for_ns=34 * S,
        state="open",
        is_open=True,
        override="",
        of=len(asked),
        received=sum(line.received_ns is not None for line in asked),
        acknowledged=sum(line.acknowledged_ns is not None for line in asked),
        by_voice=sum(line.voice_ns is not None for line in asked),
        answered=sum(answered(line) for line in asked),
        out=sum(line.out_ns is not None for line in asked),
        committed=len(lines) - len(asked),
        lines=lines,
        crews=tuple(
            CrewCount(crew, sum(answered(line) for line in of), len(of))
            for crew, of in crews.items()
        ),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def evacuation_scene(*, trouble: bool = True) -> Picture:
    """Everybody is told to leave; crew Alpha 1 is committed as emergency crew."""
    shown = trouble_scene() if trouble else quiet_scene()
    one, two, three, down, five, lost, seven, low = shown.wearers
    answered: dict[str, Any] = {"unanswered": False, "received_ns": 2 * S}
    lines = (
        order_line(down, received_ns=2 * S),
        order_line(lost),
        order_line(seven, voice_ns=20 * S, **answered),
        order_line(three, acknowledged_ns=9 * S, **answered),
        order_line(five, acknowledged_ns=14 * S, back_ns=16 * S, **answered),
        order_line(low, acknowledged_ns=7 * S, out_ns=31 * S, waits=False, **answered),
        *(order_line(w, committed=True, waits=False, unanswered=False) for w in (one, two)),
    )
    wearers = (
        *(replace(w, committed=True) for w in (one, two)),
        *(three, down, replace(five, coming_out_ns=18 * S), lost, seven, low),
    )
    ready = EmergencyView("Alpha 1", "committed", (1, 2), 20 * S)
    return replace(shown, wearers=wearers, orders=(order_view(lines),), emergency=(ready,))


def roll_call_scene() -> Picture:
    """The roll is called: two of one crew have answered, of two crews one each, of one nobody."""
    quiet = quiet_scene()
    pressed, spoke, missing = (2, 3), (4, 5), (1, 6, 7, 8)

    def line(number: int) -> OrderLineView:
        here = {"unanswered": False, "waits": False} if number not in missing else {}
        return order_line(
            quiet.wearers[number - 1],
            received_ns=2 * S,
            acknowledged_ns=8 * S if number in pressed else None,
            voice_ns=11 * S if number in spoke else None,
            **here,
        )

    lines = tuple(line(number) for number in (*missing, *pressed, *spoke))
    roll = order_view(lines, order="roll call", say="Roll call. Everybody: answer.")
    ready = EmergencyView("Alpha 4", "ready", (7, 8), 600 * S)
    return replace(quiet, orders=(roll,), emergency=(ready,))


def many(number: int) -> Picture:
    """So many wearers in crews of two, all quiet."""
    return picture(tuple(wearer(n, 150 + n * 7 % 130) for n in range(1, number + 1)))


START = T - 1_080 * S
"""Wearer 4 connected 18 min ago, at 14:14:07."""


def detail(wearer: int = 4, **changes: object) -> AirDetail:
    """All of wearer 4's air: 295 bar falling by 8.2 bar a minute, silent for 3 min on the way."""
    points = [(START + s * S, 295 - s * 0.137) for s in range(0, 1_081, 5) if not 480 < s < 660]
    here = points[-1][1]
    fan = [
        FanPoint(T + s * S, max(0, here - s * 0.19), max(0, here - s * 0.14), here - s * 0.1)
        for s in range(0, 1_201, 60)
    ]
    plain = AirDetail(
        wearer=wearer,
        t=T,
        start_ns=START,
        points=tuple(points),
        gaps=((START + 480 * S, START + 660 * S),),
        marks=(
            Mark(START + 60 * S, "E", "gone in"),
            Mark(START + 600 * S, "V", "204 bar by voice"),
            Mark(START + 700 * S, "I", "objective reached at 199 bar"),
            Mark(T - 34 * S, "A", "MOTION ALARM"),
        ),
        fan=tuple(fan),
        plan=tuple((START + s * S, max(0.0, 295 - s * 0.125)) for s in range(0, 2_401, 60)),
        limits=(("turn-back", TURN_BAR), ("low air", LOW_BAR)),
        rules=(
            Rule("turn-back", "143 bar", "double air for the way back; No 3 has the least margin"),
            Rule("low air", "105 bar", "35 % of 300 bar"),
            Rule("next", "0 min", "to turn-back by forecast: one in ten wearers would be earlier"),
            Rule("median", "1 min", "to turn-back: every second wearer would be earlier"),
            Rule("rate", "47 L/min", "over the last minute; 51 L/min since connecting"),
            Rule("table", "14:39", "low air: 295 bar x 6.8 L at 50 L/min, less the margin"),
            Rule("real gas", "14:38", "low air: 1,880 L usable at 50 L/min"),
        ),
        unit="bar",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


@dataclass
class FakeSource:
    """Hands out the picture it was given; the horizon moves when told."""

    now: Picture
    horizon: int = T
    behind_polls: int = 0
    """So many polls until the reader has caught up."""
    announced: bool = False
    acts: tuple[tuple[int, Act], ...] = ()
    """Taken, with their times, newest first."""
    unread: bool = False
    """What the desk has taken has not come by way of the rows yet."""
    fault: Exception | None = None
    polls: int = 0
    pictures: int = 0
    details: int = 0
    moving: bool = True
    """Each poll moves the horizon by 50 ms, as a living recorder would."""

    def poll(self) -> bool:
        self.polls += 1
        if self.fault:
            raise self.fault
        self.behind_polls = max(0, self.behind_polls - 1)
        if self.moving:
            self.horizon += S // 20
        return self.moving

    @property
    def catching_up(self) -> bool:
        return self.behind_polls > 0

    def did(self, act_id: str) -> bool:
        return act_id != "" and not self.unread

    def log(self) -> tuple[tuple[int, Act], ...]:
        return self.acts

    def emergency_form(self, wearer: int) -> tuple[tuple[str, str], ...]:
        return (("name", f"wearer {wearer}"), ("needs", ""))

    def urgent(self) -> bool:
        announced, self.announced = self.announced, False
        return announced

    def picture(self) -> Picture:
        self.pictures += 1
        return self.now

    def air_detail(self, wearer: int) -> AirDetail | None:
        self.details += 1
        return detail(wearer) if any(w.wearer == wearer for w in self.now.wearers) else None


@dataclass
class FakeDesk:
    """A desk that keeps what was asked, and answers what it was told to answer."""

    role: Role | None = field(default_factory=lambda: Role(holder=True, by="R. Harrow"))
    by: str = "R. Harrow"
    full: int = 0
    not_on_disk: bool = False
    asked: list[Act] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    beats: list[int] = field(default_factory=list)
    takes: int = 0
    stops: int = 0

    @property
    def connected(self) -> bool:
        return self.role is not None

    @property
    def holds(self) -> bool:
        return self.role is not None and self.role.holder

    def ask(self, act: Act, now_ns: int) -> None:
        assert now_ns > 0
        self.asked.append(act)

    def beat(self, frame: int) -> None:
        self.beats.append(frame)

    def take(self) -> None:
        self.takes += 1

    def stop(self) -> None:
        self.stops += 1

    def pump(self, now_ns: int) -> list[Answer]:
        assert now_ns > 0
        answers, self.answers = self.answers, []
        return answers

    def answer_last(self, *, why: str = "") -> None:
        """Take the last act, or refuse it if there is a reason."""
        act_id = self.asked[-1].id
        self.answers.append(NotTaken(id=act_id, why=why) if why else Taken(id=act_id))

    def say_stopping(self) -> None:
        self.answers.append(Stopping())


@dataclass
class FakeReviver:
    """Counts how often it was asked."""

    cause: str = "the recorder does not answer"
    looks: int = 0
    wells: int = 0
    ends: int = 0
    agains: int = 0

    def look(self, now_ns: int) -> str:
        assert now_ns > 0
        self.looks += 1
        return self.cause

    def well(self) -> None:
        self.wells += 1

    def ended(self) -> None:
        self.ends += 1

    def again(self) -> None:
        self.agains += 1


@dataclass
class Board:
    """A board with all its fakes in a test's hands."""

    app: BoardApp
    source: FakeSource
    desk: FakeDesk
    reviver: FakeReviver
    clock: Clock


class Scenes:
    """The scene's makers, for tests that take one fixture only."""

    S = S
    T = T
    air = staticmethod(air)
    wearer = staticmethod(wearer)
    alarm = staticmethod(alarm)
    picture = staticmethod(picture)
    quiet = staticmethod(quiet_scene)
    trouble = staticmethod(trouble_scene)
    many = staticmethod(many)
    put_aside = staticmethod(put_aside)
    order_line = staticmethod(order_line)
    order_view = staticmethod(order_view)
    evacuation = staticmethod(evacuation_scene)
    roll_call = staticmethod(roll_call_scene)
    detail = staticmethod(detail)

    @staticmethod
    def look(width: int = 80, height: int = 24, **changes: object) -> Look:
        return replace(Look(width, height, zone=UTC), **changes)  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def scenes() -> Scenes:
    """Makers of pictures."""
    return Scenes()


@pytest.fixture
def make_board(clock: Clock) -> Callable[..., Board]:
    """Make a board on a picture, without blink, in UTC; its clock moves only when told."""

    def make(
        shown: Picture,
        *,
        colours: Colours = Colours.FULL,
        daylight: bool = False,
        blink: bool = False,
        desk: FakeDesk | None = None,
        glyphs: Glyphs = UNICODE,
        aids: Aids | None = None,
    ) -> Board:
        ids = iter(f"test-act-{n}" for n in range(1_000))
        options = BoardOptions(
            new_id=lambda: next(ids),
            colours=colours,
            daylight=daylight,
            glyphs=glyphs,
            zone=UTC,
            blink=blink,
            aids=aids or Aids(),
        )
        source = FakeSource(shown)
        reviver = FakeReviver()
        desk = desk or FakeDesk()
        app = BoardApp(source, desk, reviver, clock, options)
        return Board(app, source, desk, reviver, clock)

    return make


@pytest.fixture
def make_offer() -> Callable[..., Offer]:
    """What an opening sheet stands on, with faults by the answer they are found in."""

    def make(**changes: object) -> Offer:
        def procedure(text: str) -> Procedure | str:
            try:
                return procedures.load(text)
            except BadFile as error:
                return error.what

        plain = Offer(
            procedures=procedures.names(),
            rosters=("kiln-lane",),
            last_procedure="",
            last_roster="",
            procedure=procedure,
            roster=lambda text: "no such roster" if text == "nobody" else "",
            links=lambda text, use: f"not {use}" if text == "udp:1" else "",
            key=lambda text, use: "the other key file" if text != f"{use}.key" else "",
            opens=lambda text, _use: "the port is in use" if text == "udp:2" else "",
        )
        return replace(plain, **changes)  # type: ignore[arg-type]

    return make
