"""Deletion: frames vanish. Sequence numbers count them, silence is shown and becomes an alarm."""

from itertools import combinations
from random import Random

from monitor.incident.picture import Priority
from protocol.packets import Kind, Motion
from tests.threats.bench import MS, Base, Receiver, S, ring
from tests.threats.conftest import MakeBase

"""No signal after nine intervals of 5 s and 1 s (the base's rule for that interval)."""


def test_every_lost_frame_is_counted_and_nothing_stands_in_for_it(base: Base) -> None:
    random, lost = Random(1), [0] * 5
    for _ in range(300):
        for number, sender in enumerate(base.senders):
            frame = sender.frame(base.boot_ns)
            if random.random() < 0.2:
                lost[number] += 1
            else:
                base.hear(frame)
                base.commit()
                assert base.line(number + 1).air.reading_bar == sender.dbar / 10
        base.wait(5 * S)
    base.round()
    assert [line.frames_lost for line in base.picture.wearers] == lost
    assert sum(lost) > 250
    assert base.refused() == {}


def test_any_copy_of_an_event_that_gets_through_is_enough(base: Base) -> None:
    """Five copies: every way to lose some, but not all, of them."""
    ways = [kept for size in range(1, 6) for kept in combinations(range(5), size)]
    assert len(ways) == 31
    for kept in ways:
        for number, sender in enumerate(base.senders, start=1):
            event = sender.frame(base.boot_ns, kind=Kind.EVENT, motion=Motion.STILL)
            for _ in kept:
                base.hear(event)
                base.wait(200 * MS)
            assert base.line(number).motion == "still"
            base.hear(sender.frame(base.boot_ns))
    assert [line.frames_lost for line in base.picture.wearers] == [0] * 5
    assert base.refused() == {}


def test_a_pack_cut_off_at_any_moment_is_never_shown_as_heard(make_base: MakeBase) -> None:
    for seed in range(40):
        random = Random(seed)
        base = make_base(None, packs=2, seed=seed)
        base.begin()
        for _ in range(random.randrange(1, 5)):
            base.round()
        gone, stays = base.senders
        quiet_ns = base.boot_ns
        base.hear(gone.frame(base.boot_ns))
        while base.boot_ns - quiet_ns < 70 * S:
            base.hear(stays.frame(base.boot_ns))
            base.wait(random.randrange(500, 5_000) * MS)
            silent_ns = base.boot_ns - quiet_ns
            line = base.line()
            # Three intervals and a second, then the limit that the line states (the base's rules).
            want = "signal" if silent_ns < 16 * S else "signal gap"
            limit_ns = line.silence_limit_ns
            assert limit_ns is not None
            assert limit_ns <= 61 * S
            assert line.signal == ("no signal" if silent_ns >= limit_ns else want)
            if silent_ns >= 16 * S:
                assert line.air.source == "estimate"
        assert "no_signal" in base.alarms()
        assert base.line(2).signal == "signal"


def test_a_pack_that_restarts_again_and_again_says_so(base: Base) -> None:
    """Each 0.25 s a new boot: no frame of it ever answers a beacon."""
    sender = base.senders[0]
    for _ in range(8):
        sender.boot, sender.sequence, sender.on_ns, sender.beacon = (
            sender.boot + 1,
            0,
            base.boot_ns,
            0,
        )
        base.hear(sender.sign_on(base.boot_ns))
        base.wait(250 * MS)
    (alarm,) = base.picture.alarms
    assert (alarm.kind, alarm.wearers) == ("restarting", (1,))
    assert base.line().state == "PACK RESTARTS"


def test_beacons_that_never_arrive_leave_a_pack_unproven(make_base: MakeBase) -> None:
    base = make_base(None, downlink=False)
    with base.nothing_taken():
        for _ in range(60):
            base.round()
    assert {line.signal for line in base.picture.wearers} == {"not proven live"}
    assert base.picture.doubtful == (("NOT_PROVEN", 300),)
    assert "not_proven" in base.alarms()


def test_calls_of_a_fleet_that_hears_no_beacons_are_one_danger_until_it_is_ended(
    make_base: MakeBase,
) -> None:
    """Twelve packs, the way down broken: all lie still, one after another, and fall silent."""
    base = make_base(ring(), packs=12, downlink=False)
    for number in range(12):
        for sender in base.senders:
            still = sender.identity - 101 <= number
            base.hear(sender.frame(base.boot_ns, motion=Motion.ALARM if still else Motion.MOVING))
        (alarm,) = [a for a in base.picture.alarms if a.kind == "unproven_distress"]
        assert not alarm.acknowledged, "each calls for the first time, at once"
        assert alarm.wearers == tuple(range(1, number + 2))
        base.take("unproven_distress")
        base.wait(5 * S)
    for _ in range(60):
        base.wait(5 * S)
    (alarm,) = [a for a in base.picture.alarms if a.kind == "unproven_distress"]
    assert (alarm.priority, alarm.latched, len(alarm.wearers)) == (Priority.DANGER, True, 12)


def test_a_second_call_of_a_pack_that_hears_no_beacons_is_told(make_base: MakeBase) -> None:
    base = make_base(ring(), packs=1, downlink=False)
    (sender,) = base.senders
    base.hear(sender.frame(base.boot_ns, kind=Kind.EVENT, distress=True))
    base.take("unproven_distress")
    base.wait(5 * S)
    base.hear(sender.frame(base.boot_ns))
    base.wait(20 * S)
    base.hear(sender.frame(base.boot_ns, kind=Kind.EVENT, distress=True))
    base.wait(30 * S)
    assert not base.waits("unproven_distress")
    base.wait(6 * S)
    assert base.waits("unproven_distress"), "a minute after the line first asked"


def test_an_order_of_which_one_copy_arrives_is_obeyed(receiver: Receiver) -> None:
    random = Random(1)
    for number in range(1, 101):
        order = receiver.order(number)
        for copy in range(4):
            if copy == 3 or random.random() < 0.3:
                receiver.hear(order)
                break
            receiver.wait(1 * S)
        receiver.wait(5 * S)
        assert receiver.pack._gate.highest == number
    assert receiver.obeyed == list(range(1, 101))
