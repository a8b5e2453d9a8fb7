"""Taking an incident up again: time over the break, what is remembered, what is not.

The break is known by the boot clock, the wall clock, the packs' uptimes or not at all; incident
time never runs backwards. That is this program's own rule.
"""

from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.desk import Hello, NotTaken
from monitor.incident.events import EnrolAgain
from monitor.incident.record.events import RealEmergency
from monitor.incident.rows import RowKind
from monitor.journal.schema import Batch, Session
from monitor.recorder.recovery import DOWN_NS_MAX, Break, Refold, UptimeCheck, break_since
from monitor.recorder.sequencer import Sequencer

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S
WALL_NS = 1_700_000_000 * S
SESSION = Session(1, "boot one", BOOT_NS, WALL_NS, "outby 0")
LAST = Batch(9, 1, 50, 70 * S, BOOT_NS + 70 * S, WALL_NS + 70 * S, b"")


# ---------------------------------------------------------------- how long it was


def test_on_the_same_boot_the_gap_is_exact() -> None:
    stamp = Stamp(BOOT_NS + 75 * S, 0)
    gap = break_since(LAST, SESSION, "boot one", stamp)
    assert gap == Break(70 * S, 5 * S, "boot clock")
    assert gap.origin_boot_ns(stamp) == BOOT_NS


@pytest.mark.parametrize(
    ("boot_id", "session"), [("boot two", SESSION), ("", SESSION), ("boot one", None)]
)
def test_over_a_reboot_the_wall_clock_tells(boot_id: str, session: Session | None) -> None:
    stamp = Stamp(9 * S, WALL_NS + 100 * S)
    gap = break_since(LAST, session, boot_id, stamp)
    assert gap == Break(70 * S, 30 * S, "wall clock")
    assert gap.origin_boot_ns(stamp) == 9 * S - 100 * S


@pytest.mark.parametrize("wall_ns", [WALL_NS + 70 * S - 1, WALL_NS + 70 * S + DOWN_NS_MAX + 1, 0])
def test_a_wall_clock_that_cannot_be_right_tells_nothing(wall_ns: int) -> None:
    gap = break_since(LAST, SESSION, "boot two", Stamp(9 * S, wall_ns))
    assert gap == Break(70 * S, 0, "unknown")


def test_only_a_short_and_exact_break_keeps_proofs() -> None:
    assert Break(0, 60 * S, "boot clock").short
    assert not Break(0, 60 * S + 1, "boot clock").short
    assert not Break(0, 1 * S, "wall clock").short


# ---------------------------------------------------------------- going on


class Again:
    """A base whose recorder is started anew."""

    def __init__(self, make: Any, base: Any, boot_id: str = "boot one") -> None:
        last = Batch(1, 1, 0, base.sequencer.horizon, base.boot_ns, base.wall_ns, b"")
        self.base = base
        self.make = make
        self.boot_id = boot_id
        self.last = last

    def after(self, boot_ns: int, wall_ns: int) -> Any:
        base = self.base
        base.boot_ns, base.wall_ns = boot_ns, wall_ns
        base.intake, base.beacons = self.make.parts(base.keyring)
        gap = break_since(self.last, SESSION, self.boot_id, base.stamp)
        refold = Refold(gap, base.intake, base.stamp)
        refold.take(base.rows)
        start = refold.start()
        self.picture = start.incident.picture()
        base.sequencer = Sequencer(start, base.intake, base.beacons, base.stamp)
        return base


@pytest.fixture
def base(make: Any) -> Any:
    return make.base(make.keyring(), packs=[101])


@pytest.fixture
def pack(make: Any, base: Any) -> Any:
    pack = make.pack(base.keyring)
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns))
    base.beat(1 * S)
    return pack


def test_the_incident_goes_on_where_it_was(make: Any, base: Any, pack: Any) -> None:
    before = base.sequencer.incident.picture()
    restart = Again(make, base)
    again = restart.after(base.boot_ns, base.wall_ns)
    assert restart.picture == before
    batch = again.beat()
    assert batch.rows[0].t == before.t + 1
    (resumed,) = again.facts("resumed")
    assert (resumed.what.down_ns, resumed.what.known_by) == (0, "boot clock")


def test_time_goes_on_over_the_break(make: Any, base: Any, pack: Any) -> None:
    horizon = base.sequencer.horizon
    again = Again(make, base).after(base.boot_ns + 5 * S, base.wall_ns + 5 * S)
    assert again.beat(10 * MS).horizon == horizon + 5 * S + 10 * MS


def test_nobody_is_blamed_for_a_break_of_any_length(make: Any, base: Any, pack: Any) -> None:
    again = Again(make, base).after(base.boot_ns + 3600 * S, base.wall_ns + 3600 * S)
    again.beat(1 * S)
    kinds = {said.kind for said in again.sequencer.take_sounds()}
    assert "no_signal" not in kinds
    assert "several_silent" not in kinds


def test_a_pack_proven_live_stays_so_over_a_short_break(make: Any, base: Any, pack: Any) -> None:
    pack.beacon = 0
    again = Again(make, base).after(base.boot_ns + 60 * S, base.wall_ns + 60 * S)
    again.hear(pack.frame(again.boot_ns))
    again.beat()
    assert again.standings()[-1] == "LIVE"


def test_after_a_long_break_it_must_prove_itself_anew(make: Any, base: Any, pack: Any) -> None:
    again = Again(make, base).after(base.boot_ns + 61 * S, base.wall_ns + 61 * S)
    again.hear(pack.frame(again.boot_ns))
    again.beat()
    assert again.standings()[-1] == "NOT_PROVEN"
    # A short break later does not bring back what the long one took.
    twice = Again(make, again).after(again.boot_ns + 1 * S, again.wall_ns + 1 * S)
    twice.hear(pack.frame(twice.boot_ns))
    twice.beat()
    assert twice.standings()[-1] == "NOT_PROVEN"


def test_what_was_heard_before_the_break_is_not_new_after_it(make: Any, base: Any) -> None:
    pack = make.pack(base.keyring)
    frame = pack.frame(base.boot_ns)
    base.hear(frame)
    base.beat()
    again = Again(make, base).after(base.boot_ns, base.wall_ns)
    again.hear(frame)
    again.beat()
    assert len(again.standings()) == 1


def test_a_delay_is_still_measured_from_before_the_break(make: Any, base: Any, pack: Any) -> None:
    late = pack.frame(base.boot_ns)
    again = Again(make, base).after(base.boot_ns + 30 * S, base.wall_ns + 30 * S)
    again.hear(late)
    again.beat()
    assert again.standings()[-1] == "HELD"


def test_an_act_taken_before_the_break_is_known_after_it(make: Any, base: Any) -> None:
    base.hold()
    base.ask(1, make.note())
    base.beat()
    again = Again(make, base).after(base.boot_ns, base.wall_ns)
    again.hold()
    again.ask(1, make.note())
    again.beat()
    assert sum(b'"what":"note"' in row.data for row in again.rows) == 1
    assert [a.message.say for a in again.answers] == ["role", "taken", "role", "taken"]


def test_nobody_holds_the_board_after_a_break(make: Any, base: Any) -> None:
    base.hold()
    base.beat()
    again = Again(make, base).after(base.boot_ns, base.wall_ns)
    again.beat()
    assert [h.what.board for h in again.facts("holder")] == ["board 1", ""]


def test_an_alarm_whose_sound_was_lost_is_sounded_after_the_break(make: Any, base: Any) -> None:
    pack = make.pack(base.keyring)
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns, distress=True))
    base.beat()
    announced = base.rows.pop()
    assert b'"distress"' in announced.data
    again = Again(make, base).after(base.boot_ns, base.wall_ns)
    assert [said.kind for said in again.sequencer.take_sounds()] == ["distress"]
    again.beat()
    thrice = Again(make, again).after(again.boot_ns, again.wall_ns)
    assert thrice.sequencer.take_sounds() == []


def test_a_pack_enrolled_again_stays_so(make: Any, base: Any, pack: Any) -> None:

    pack.boot, pack.sequence = 1, 0
    base.hear(pack.frame(base.boot_ns))
    base.hold()
    base.ask(1, EnrolAgain(id="enrol-0001", by="R. Harrow", pack=101))
    base.hear(pack.frame(base.boot_ns))
    base.beat()
    again = Again(make, base).after(base.boot_ns, base.wall_ns)
    again.hear(pack.frame(again.boot_ns))
    again.beat()
    # The beacon answered is from before the present boot: it proves nothing of now.
    assert again.standings() == ["LIVE", "OLD", "LIVE", "LIVE"]


def test_what_was_declared_real_stays_so_and_keeps_scripts_out(make: Any, base: Any) -> None:
    base.hold()
    base.ask(1, RealEmergency(id="real-0001", by="R. Harrow"))
    base.beat()
    again = Again(make, base).after(base.boot_ns + 2 * S, base.wall_ns + 2 * S)
    again.sequencer.hello(2, Hello(board="s", by="drill script", want="script"), again.stamp)
    again.ask(2, make.note(by="drill script"))
    answers = [a.message for a in again.commit().at_once]
    assert [a.why for a in answers if isinstance(a, NotTaken)] == [
        "A script may not act at a real incident."
    ]


def test_rows_without_an_opening_are_no_incident(make: Any) -> None:
    intake, _ = make.parts(None)
    refold = Refold(Break(0, 0, "unknown"), intake, Stamp(BOOT_NS, WALL_NS))
    refold.take([])
    with pytest.raises(ValueError, match="no row says"):
        refold.start()


# ---------------------------------------------------------------- a reboot


def test_a_packs_uptime_tells_what_no_clock_did(make: Any, base: Any, pack: Any) -> None:
    heard_ns = base.boot_ns - 1 * S
    horizon = base.sequencer.horizon
    again = Again(make, base, "boot two").after(5 * S, 0)
    again.beat(1 * S)
    (resumed,) = again.facts("resumed")
    assert resumed.what.known_by == "unknown"
    # The pack says 100 s more than in its last report, which came 1 s before the last commit.
    again.hear(pack.frame(heard_ns + 100 * S))
    batch = again.beat()
    (moved,) = again.facts("time_moved")
    # 99 s passed since that commit, 1 s of which is known; 500 ppm of 100 s is allowed for drift.
    assert moved.what.by_ns == 98 * S - 50 * MS
    assert batch.horizon == horizon + 99 * S - 50 * MS
    # Its own stamp has moved with the rest: the frame that told of the jump did not wait for it.
    assert [row.late_ns for row in batch.rows if row.kind is RowKind.FRAME] == [0]
    assert [row.t for row in again.rows] == sorted(row.t for row in again.rows)
    again.hear(pack.frame(heard_ns + 200 * S))
    again.beat()
    assert len(again.facts("time_moved")) == 1


def test_time_that_seemed_too_long_is_never_taken_back(make: Any, base: Any, pack: Any) -> None:
    heard_ns = base.boot_ns - 1 * S
    again = Again(make, base, "boot two").after(5 * S, base.wall_ns + 500 * S)
    again.hear(pack.frame(heard_ns + 100 * S))
    again.beat()
    assert again.facts("time_moved") == []
    # Nor is the pack taken for one whose frames are held up.
    pack.beacon = again.beacons.recent._sent[-1][0]
    again.hear(pack.frame(heard_ns + 100 * S))
    again.beat()
    assert again.standings()[-1] == "LIVE"


def test_a_pack_that_was_switched_off_meanwhile_tells_nothing(
    make: Any, base: Any, pack: Any
) -> None:
    again = Again(make, base, "boot two").after(5 * S, 0)
    pack.boot, pack.sequence = 4, 0
    again.hear(pack.frame(BOOT_NS + 900 * S))
    again.beat()
    assert again.facts("time_moved") == []


def test_uptimes_are_asked_for_two_minutes_only(make: Any, base: Any, pack: Any) -> None:
    heard_ns = base.boot_ns
    again = Again(make, base, "boot two").after(5 * S, 0)
    again.beat(121 * S)
    again.hear(pack.frame(heard_ns + 900 * S))
    again.beat()
    assert again.facts("time_moved") == []


def test_less_than_a_second_is_delay_and_more_than_a_week_is_nonsense(make: Any) -> None:
    report = make.pack(None).report(BOOT_NS)
    for missing_ns, found_ns in ((1 * S, 1 * S), (1 * S - 1 * MS, 0), (DOWN_NS_MAX + 1 * S, 0)):
        check = UptimeCheck(0, {101: (3, 0, 0)})
        assert check.missing_ns(report, -missing_ns) == found_ns


def test_an_order_goes_on_under_its_number_and_a_lost_ones_is_never_used_again(
    make: Any, base: Any, pack: Any
) -> None:
    base.hold()
    base.ask(1, make.evacuate())
    base.beat(20 * MS)
    (before,) = base.facts("orders_sent")
    again = Again(make, base).after(base.boot_ns + 2 * S, base.wall_ns + 2 * S)
    again.hear(pack.frame(again.boot_ns))
    again.beat(20 * MS)
    sent = again.facts("orders_sent")[-1]
    assert sent.what == before.what
    # Received, but its wearer has not answered: it is asked of the same pack, nothing new.
    again.hear(pack.frame(again.boot_ns, order_received=1))
    again.beat(20 * S)
    assert {s.what.sent[0] for s in again.facts("orders_sent")} == {(1, 101, 1)}
    again.hear(pack.frame(again.boot_ns, order_received=1, order_acknowledged=1))
    again.hold(2)
    again.ask(2, make.evacuate("order-002"))
    again.beat(20 * MS)
    assert again.facts("orders_sent")[-1].what.sent == ((2, 101, 1 + 64 + 1),)
