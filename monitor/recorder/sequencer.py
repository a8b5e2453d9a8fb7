"""The sequencer: puts everything that happens to an incident in one order. Pure.

Stamped bytes, acts, news of links and the clock's ticks go in; rows to commit, frames to send and
sounds come out. It has no clock, no socket, no disk and no random of its own, so a whole base can
be run from a seed, with every crash and every fault of the disk.

One order, one time
-------------------
A row's time is the later of its own stamp and the instant after the last horizon; rows never go
back. Only ``next_batch`` moves the horizon, which says "everything up to here is in the journal".
Bytes that were stamped before a horizon but came after it get a later time, and their row says
how much later.

What is journalled is what is folded: each row is applied to the incident as it is made, so an
alarm sounds before its row is on the disk. Batches are numbered and in flight together: a disk that
takes none keeps nothing back but their answers. An act is answered TAKEN only after its commit.

A recorder that did not run (stopped, starved, suspended) says so first, in a row that stands
before anything heard meanwhile, so that no pack is blamed for the recorder's own silence.
"""

from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from monitor.desk import Ask, Held, Hello, NotTaken, Role, Taken
from monitor.incident.decoding import announced_row, row_of
from monitor.incident.events import (
    Act,
    BoardsAlive,
    ClockStep,
    Done,
    EnrolAgain,
    Fact,
    Heard,
    JoinPack,
    LinkState,
    Stall,
    TimeMoved,
    WentOn,
)
from monitor.incident.orders.events import GiveOrder, OrdersSent
from monitor.incident.record.events import HandOver, PauseExercise, RealEmergency
from monitor.incident.rows import Row, RowKind, Standing
from monitor.incident.signed import Signed
from monitor.recorder.batch import Answer, Batch, Send
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.orders_out import OrderSender
from monitor.recorder.recovery import Start
from monitor.recorder.seats import Seats

if TYPE_CHECKING:
    from monitor.clock import Stamp
    from monitor.incident.alarms.engine import Announcement
    from monitor.links.chunk import Chunk

BEAT_TRAFFIC_NS = 50_000_000
"""With rows waiting, a commit this long after the last one."""
BEAT_IDLE_NS = 250_000_000
"""With none: the horizon still moves, so that a screen knows the recorder is alive."""
BEAT_URGENT_NS = 20_000_000
"""What can raise an alarm is committed at once, but never more often than this."""
STALL_NS = 500_000_000
"""A beat later than this is a stall. Shorter ones come with any busy machine."""
CLOCK_STEP_NS = 1_000_000_000
"""The wall clock against the boot clock: less is drift or a slew, and no matter to a person."""
ROWS_WAITING_MAX = 1_000_000
"""Rows kept while no disk takes any: hours of a full incident. Beyond, frames that say nothing new
share a row; events, acts, alarms and other facts never do."""
HELD_NS = 500_000_000
"""An act that has waited for the disk for so long is said to be held."""
ACT_IDS_MAX = 20_000
"""Ids of acts remembered. An act dies in ten seconds, so its id could come back only within."""

_FRAME = RowKind.FRAME
_PROVE_NO_TIME = (Standing.HELD, Standing.OLD, Standing.OLD_NOW, Standing.UNPROVEN_DISTRESS)


class _InFlight(NamedTuple):
    """What is left of a batch while it is not known to be in the journal."""

    number: int
    rows: int


class _Unanswered(NamedTuple):  # acts of a batch: a loss of power may take them
    number: int
    answers: list[Answer]
    boot_ns: int


class Sequencer:
    """One incident being recorded. All inputs take the ``Stamp`` at which they are handled."""

    def __init__(
        self,
        start: Start,
        intake: Intake,
        beacons: BeaconSender,
        stamp: "Stamp",
        rows_waiting_max: int = ROWS_WAITING_MAX,
    ) -> None:
        """Take up ``start`` at ``stamp``; its first facts and acts become rows at once."""
        self.incident = start.incident
        self._opened = start.opened
        self._intake = intake
        self.expected, self.forged = intake.expected, intake.forged
        """What packs are known by a link, and from where; whether a frame in their name is none."""
        self._beacons = beacons
        self._orders = OrderSender(beacons)
        self._seats = Seats(
            stamp.boot_ns,
            exercise=(start.incident.use or start.opened.use) == "exercise",
            watched=start.incident.watched,
        )
        self._origin_boot_ns = start.origin_boot_ns
        self._stands_since_boot_ns = stamp.boot_ns if start.incident.paused else None
        """Since when incident time stands still; None: it goes on."""
        self._wall_less_boot_ns = stamp.wall_ns - stamp.boot_ns
        self._uptimes = start.uptimes
        self._act_answers: dict[str, str | None] = dict.fromkeys(start.act_ids)
        self.horizon = start.horizon
        self._floor = start.horizon + 1
        self._links: dict[int, LinkState] = {}
        self._rows: list[Row] = []
        self._answers: list[Answer] = []
        """To acts that are taken."""
        self._at_once: list[Answer] = []
        self._held = 0
        """Number of the newest batch whose acts were said to be held."""
        self._orders_taken: dict[str, bool] = {}
        """Orders whose batch is not in the journal yet, and whether they have gone out."""
        self._sounds: list[Announcement] = list(start.unannounced)
        self._to_announce: list[Announcement] = list(start.unannounced)
        self._in_flight: deque[_InFlight] = deque()
        self._unanswered: deque[_Unanswered] = deque()
        self._rows_in_flight = 0
        self.made = 0
        """Number of the newest batch."""
        self._urgent = True
        self._rows_waiting_max = rows_waiting_max
        self._beat_boot_ns = stamp.boot_ns
        self._intake.joined = self.incident.joined_packs
        for fact in start.facts:
            self._record(self._floor, fact)
        for act in start.acts:
            self._take(act, stamp)

    # ------------------------------------------------------------ inputs

    def heard(self, chunks: Sequence["Chunk"], stamp: "Stamp") -> None:
        """Take bytes from the links, in the order in which they were queued."""
        self._woken(stamp)
        if self.incident.closed:
            return
        intake = self._intake
        intake.allow_strangers(stamp.boot_ns)
        apply = self.incident.apply
        add = self._rows.append
        admit = intake.admit
        for chunk in chunks:
            own_t = self._at(chunk.stamp.boot_ns)
            t = max(own_t, self._floor)
            for frame, heard in admit(chunk):
                if intake.still_heard:
                    self._record_thinned(t)
                if self._uptimes is not None and self._time_moved(heard, chunk.stamp):
                    own_t = self._at(chunk.stamp.boot_ns)
                    t = max(own_t, self._floor)
                self._floor = heard.t = t
                heard.late_ns = late_ns = t - own_t
                add(Row(t, _FRAME, frame, heard.link, late_ns, heard.standing, heard.signal_dbm))
                apply(heard)
        self._listen_for_sounds()

    def turned_away(self, link: int, count: int) -> None:
        """The system has kept so much of a flood back."""
        self._intake.refusals.turned_away(link, count)

    def link_state(self, state: LinkState, stamp: "Stamp", *, wire: bool) -> None:
        """A link opened or failed. ``wire``: a line with framed bytes, heard by all on it."""
        self._woken(stamp)
        self._intake.set_link(state.link, framed=wire)
        if state.up:
            self._intake.receivers.open(state.link, wire=wire)
        else:
            self._intake.receivers.gone(state.link)
        self._links[state.link] = state
        self._beacons.set_wire(state.link, up=wire and state.up)
        if not self.incident.closed:
            self._record(self._t(stamp), state)
            self._urgent = True

    def noticed(self, fact: Fact, stamp: "Stamp") -> None:
        """The base has noticed something about itself that needs no more than a row."""
        self._woken(stamp)
        if not self.incident.closed or isinstance(fact, Signed):
            self._record(self._t(stamp), fact)
            self._urgent = True
            self._listen_for_sounds()

    def hello(self, seat: int, said: Hello, stamp: "Stamp") -> None:
        """A board says who it is and what it wants; the answer is its role."""
        self._woken(stamp)
        if self._seats.hello(seat, said, stamp.boot_ns):
            self._holder_changed(stamp)
        else:
            self._at_once.append(Answer(seat, self._role(seat)))
        self._urgent = True

    def left(self, seat: int, stamp: "Stamp") -> None:
        """A board's connection has gone."""
        self._woken(stamp)
        if self._seats.left(seat):
            self._holder_changed(stamp)

    def board_beat(self, seat: int, stamp: "Stamp") -> None:
        """A board has drawn a frame."""
        self._woken(stamp)
        self._seats.beat(seat, stamp.boot_ns)

    def holds(self, seat: int) -> bool:
        """Whether the board of this connection may act."""
        return self._seats.holds(seat)

    def asked(self, seat: int, ask: Ask, stamp: "Stamp") -> None:
        """An act is asked for. It is answered with the next batch: taken, or why not."""
        self._woken(stamp)
        act = ask.act
        self._urgent = True
        if act.id not in self._act_answers:
            why = self._seats.why_not(seat, ask, stamp.boot_ns) or self._why_not(act, stamp)
            if why is None:
                self._take(act, stamp)
            else:
                self._remember(act.id, why)
        why = self._act_answers[act.id]
        if why is None:
            self._answers.append(Answer(seat, Taken(id=act.id)))
        else:
            self._at_once.append(Answer(seat, NotTaken(id=act.id, why=why)))

    @property
    def known(self) -> set[bytes]:
        """Identities, as in a frame, of packs whose frames come first; it goes on changing."""
        return self._intake.known

    @property
    def thinned(self) -> int:
        """Frames that said nothing new, kept in short: no disk takes rows and memory is full."""
        return self._intake.thinned

    # ------------------------------------------------------------ outputs

    def take_sounds(self) -> list["Announcement"]:
        """Announcements since the last call. They wait for nothing: sound them at once."""
        sounds, self._sounds = self._sounds, []
        return sounds

    def due_boot_ns(self) -> int:
        """When, by the boot clock, the next batch should be made."""
        if self._urgent:
            return self._beat_boot_ns + BEAT_URGENT_NS
        return self._beat_boot_ns + (BEAT_TRAFFIC_NS if self._rows else BEAT_IDLE_NS)

    def next_batch(self, stamp: "Stamp") -> Batch | None:
        """Move the horizon to ``stamp`` and give what is to be committed with it.

        Say ``committed`` once it is in the journal; others may be made before. None once the
        incident is closed and there is nothing more to commit.
        """
        self._woken(stamp)
        if self.incident.closed and not (self._rows or self._answers or self._at_once):
            return None
        sends: list[Send] = []
        if not self.incident.closed:
            self._record_thinned(self._t(stamp))
            self._own_facts(stamp)
            sends = self._send_orders(stamp) + self._beacons.due(stamp.boot_ns)
        last_t = self._rows[-1].t if self._rows else self.horizon
        # While time stands still the horizon moves by the least there is: boards see that the
        # recorder lives, and nothing falls due.
        least = self.horizon + (self._stands_since_boot_ns is not None)
        self.horizon = max(self._t(stamp), last_t, least)
        if not self.incident.closed:
            self.incident.advance(self.horizon)
        self._listen_for_sounds()
        self._rows += [announced_row(self.horizon, said) for said in self._to_announce]
        self._to_announce.clear()
        self._floor = self.horizon + 1
        self._beat_boot_ns = max(stamp.boot_ns, self._beat_boot_ns)
        self._urgent = self._orders.more
        self.made += 1
        batch = Batch(
            rows=self._rows,
            horizon=self.horizon,
            stamp=stamp,
            answers=self._answers,
            at_once=self._at_once,
            sends=sends,
            closes=self.incident.closed,
            number=self.made,
        )
        self._in_flight.append(_InFlight(self.made, len(self._rows)))
        if self._answers:
            self._unanswered.append(_Unanswered(self.made, self._answers, stamp.boot_ns))
        self._rows_in_flight += len(self._rows)
        self._intake.full = self._rows_in_flight >= self._rows_waiting_max
        self._rows, self._answers, self._at_once = [], [], []
        return batch

    def held(self, stamp: "Stamp") -> list[Answer]:
        """Tell of acts whose batch has waited for the disk for ``HELD_NS``; of each once."""
        said: list[Answer] = []
        for one in self._unanswered:
            if stamp.boot_ns - one.boot_ns < HELD_NS:
                break
            if one.number > self._held:
                self._held = one.number
                said += [self._held_answer(answer) for answer in one.answers]
        return said

    def _held_answer(self, answer: Answer) -> Answer:
        assert isinstance(answer.message, Taken), "nothing else waits for the disk"
        act_id = answer.message.id
        return Answer(answer.to, Held(id=act_id, sent=self._orders_taken.get(act_id, False)))

    def committed(self, number: int, lasting: int | None = None) -> list[Answer]:
        """All batches up to ``number`` are in a file: give what may be answered now.

        ``lasting``: up to there in one that a loss of power does not take; left out: all of them.
        """
        answers: list[Answer] = []
        while self._in_flight and self._in_flight[0].number <= number:
            self._rows_in_flight -= self._in_flight.popleft().rows
        safe = number if lasting is None else lasting
        while self._unanswered and self._unanswered[0].number <= safe:
            answers += self._unanswered.popleft().answers
        if not self._unanswered:
            self._orders_taken.clear()
        self._intake.full = self._rows_in_flight >= self._rows_waiting_max
        return answers

    @property
    def done(self) -> bool:
        """The incident is closed, and all of it is in the journal and answered."""
        waits = self._rows or self._answers or self._at_once or self._in_flight
        return self.incident.closed and not waits

    @property
    def in_flight(self) -> int:
        """Batches that are not known to be in the journal."""
        return len(self._in_flight)

    @property
    def oldest_in_flight(self) -> int:
        """Number of the oldest batch that is not known to be in the journal."""
        return self.made - self.in_flight + 1

    # ------------------------------------------------------------ inside

    def _t(self, stamp: "Stamp") -> int:
        return self._at(stamp.boot_ns)

    def _at(self, boot_ns: int) -> int:
        """Incident time at a reading of the boot clock."""
        if self._stands_since_boot_ns is not None:
            boot_ns = min(boot_ns, self._stands_since_boot_ns)
        return boot_ns - self._origin_boot_ns

    def _record(self, t: int, what: Act | Fact) -> None:
        """Make a row of ``what`` at ``t`` or as soon after as order allows, and fold it."""
        self._floor = t = max(t, self._floor)
        self._rows.append(row_of(t, what))
        self.incident.apply(Done(t, what))

    def _record_thinned(self, t: int) -> None:
        """Make rows of what is kept in short, and fold it, before anything that was heard later."""
        for fact in self._intake.take_thinned():
            self._record(t, fact)

    def _woken(self, stamp: "Stamp") -> None:
        """Notice a stall before anything heard during it is put in order."""
        late_ns = stamp.boot_ns - (self._beat_boot_ns + BEAT_IDLE_NS)
        if late_ns <= STALL_NS or self.incident.closed:
            return
        from_ns = self._at(self._beat_boot_ns)
        self._record(self._floor, Stall(from_ns=from_ns, to_ns=self._t(stamp)))
        self._intake.receivers.stalled(late_ns)
        self._seats.stalled(late_ns)
        self._beat_boot_ns = stamp.boot_ns - BEAT_IDLE_NS

    def _time_moved(self, heard: Heard, stamp: "Stamp") -> bool:
        """Jump forward if this pack's uptime says that the break was longer than it seemed."""
        check = self._uptimes
        assert check is not None, "only asked while there is something to check"
        if stamp.boot_ns > check.until_boot_ns:
            self._uptimes = None
            return False
        if heard.standing in _PROVE_NO_TIME:
            return False
        missing_ns = check.missing_ns(heard.packet, self._t(stamp))
        if missing_ns:
            self._record(self._t(stamp), TimeMoved(by_ns=missing_ns, known_by="pack uptime"))
            self._origin_boot_ns -= missing_ns
        return missing_ns > 0

    def _own_facts(self, stamp: "Stamp") -> None:
        """Record what the base notices about itself: a clock, receivers, boards, frames refused."""
        step_ns = stamp.wall_ns - stamp.boot_ns - self._wall_less_boot_ns
        if abs(step_ns) > CLOCK_STEP_NS:
            self._wall_less_boot_ns += step_ns
            self._record(self._t(stamp), ClockStep(by_ns=step_ns, wall_ns=stamp.wall_ns))
        for link, fault in self._intake.receivers.look(stamp.boot_ns):
            before = self._links[link]
            state = before.model_copy(update={"up": not fault, "detail": fault or before.detail})
            self._record(self._t(stamp), state)
            self._urgent = True
        alive = self._seats.look(stamp.boot_ns)
        if alive is not None:
            self._record(self._t(stamp), BoardsAlive(alive=alive))
        clocks, self._intake.clocks = self._intake.clocks, []
        news: list[Fact] = [*clocks, *self._intake.refusals.due(stamp.boot_ns)]
        for fact in news:
            self._record(self._t(stamp), fact)

    def _send_orders(self, stamp: "Stamp") -> list[Send]:
        """What goes to packs now; that it goes is a row, which it does not wait for."""
        sends, sent = self._orders.due(self.incident.outstanding(), stamp.boot_ns)
        if sent:
            self._record(self._t(stamp), OrdersSent(sent=tuple(sent)))
            self._orders_taken = dict.fromkeys(self._orders_taken, True)
        return sends

    def _why_not(self, act: Act, stamp: "Stamp") -> str | None:
        if self.incident.closed:
            return "The incident is closed."
        if act.seen_ns is not None and act.seen_ns > self.horizon:
            return "Seen on a screen that is ahead of this recorder."
        return self.incident.would_refuse(act, max(self._t(stamp), self._floor))

    def _take(self, act: Act, stamp: "Stamp") -> None:
        self._record(self._t(stamp), act)
        self._remember(act.id, None)
        if isinstance(act, JoinPack):
            self._intake.joined = self.incident.joined_packs
        elif isinstance(act, EnrolAgain):
            self._intake.enrol_again(act.pack)
        elif isinstance(act, PauseExercise):
            self._follow_pause(stamp)
        elif isinstance(act, RealEmergency):
            self._seats.exercise_over()
            self._follow_pause(stamp)
        elif isinstance(act, GiveOrder):
            self._orders_taken[act.id] = False
        elif isinstance(act, HandOver) and self._seats.hand_over(act.to):
            self._holder_changed(stamp)
        self._listen_for_sounds()

    def _follow_pause(self, stamp: "Stamp") -> None:
        """Let time stand still, or go on from where it stood."""
        since = self._stands_since_boot_ns
        if self.incident.paused and since is None:
            self._stands_since_boot_ns = stamp.boot_ns
        elif not self.incident.paused and since is not None:
            self._stands_since_boot_ns = None
            self._origin_boot_ns = stamp.boot_ns - self._floor
            stood_ns = max(0, stamp.boot_ns - since)
            self._record(self._floor, WentOn(stood_ns=stood_ns, wall_ns=stamp.wall_ns))
            # Packs that stood still too would seem to have been held up on their way.
            self._intake.forget_delays()

    def _remember(self, act_id: str, why_not: str | None) -> None:
        if len(self._act_answers) >= ACT_IDS_MAX:
            del self._act_answers[next(iter(self._act_answers))]
        self._act_answers[act_id] = why_not

    def _holder_changed(self, stamp: "Stamp") -> None:
        if not self.incident.closed:
            self._record(self._t(stamp), self._seats.holder)
        self._at_once += [Answer(seat, self._role(seat)) for seat in self._seats.seated()]
        self._urgent = True

    def _role(self, seat: int) -> Role:
        return Role(
            holder=self._seats.holds(seat),
            by=self._seats.holder.by,
            incident=self._opened.incident,
            fold=self._opened.fold,
        )

    def _listen_for_sounds(self) -> None:
        said = self.incident.take_announcements()
        if said:
            self._sounds += said
            self._to_announce += said
            self._urgent = True
