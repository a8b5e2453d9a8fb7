from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol.freshness import (
    BEACONS_MAX,
    GAP_MAX,
    PROVEN_MAX,
    Beacons,
    Fresh,
    OrderGate,
    PackFreshness,
    Proof,
    SequenceAccount,
    Window,
)
from protocol.packets import Order, OrderKind
from protocol.rejects import Reject

S = 1_000_000_000


def offered(window: Window, sequence: int) -> Fresh | Reject:
    """Judge, and mark if new: what an authentic number does."""
    verdict = window.judge(sequence)
    if verdict is Fresh.NEW:
        window.mark(sequence)
    return verdict


# ---------------------------------------------------------------- window


def test_the_anti_replay_sequence(vectors: dict[str, Any]) -> None:
    # RFC 4303 3.4.3 with a window of 64, worked by hand: after 100 the oldest inside is 37.
    window = Window()
    for step in vectors["window"]:
        assert offered(window, step["sequence"]).name == step["verdict"], step
    assert window.highest == 165


def test_looking_does_not_move_the_window() -> None:
    # A forged frame with sequence 10^9 and a bad tag is judged, never marked.
    window = Window()
    window.mark(5)
    assert window.judge(10**9) is Fresh.NEW
    assert window.highest == 5
    assert window.judge(4) is Fresh.NEW


@given(st.lists(st.integers(1, 300), max_size=200))
@settings(max_examples=100)
def test_window_against_a_plain_set(numbers: list[int]) -> None:
    window, taken = Window(), set[int]()
    for number in numbers:
        highest = max(taken, default=0)
        want: Fresh | Reject = Fresh.NEW
        if number in taken and number > highest - 64:
            want = Reject.REPEATED
        elif number <= highest - 64:
            want = Reject.TOO_OLD
        assert offered(window, number) is want
        if want is Fresh.NEW:
            taken.add(number)
        assert window.bitmap < 1 << 64


# ---------------------------------------------------------------- a pack's numbers


def frame(text: str) -> bytes:
    return text.encode().rjust(44, b".")


def test_new_copy_repeated_twin_and_old() -> None:
    fresh = PackFreshness()
    assert fresh.take(7, 100, frame("a")) is Fresh.NEW
    assert fresh.take(7, 100, frame("a")) is Reject.COPY
    assert fresh.take(7, 100, frame("b")) is Reject.TWIN
    assert fresh.take(7, 99, frame("late")) is Fresh.NEW
    assert fresh.take(7, 99, frame("late")) is Reject.COPY
    for sequence in range(101, 110):
        assert fresh.take(7, sequence, frame("x")) is Fresh.NEW
    # Eight numbers are remembered: 100 is nine back.
    assert fresh.take(7, 100, frame("a")) is Reject.REPEATED
    assert fresh.take(7, 109 - 64, frame("a")) is Reject.TOO_OLD
    assert fresh.take(7, 0, frame("a")) is Reject.SEQUENCE
    assert fresh.highest == 109


def test_a_number_taken_with_other_contents_is_a_twin_however_far_back() -> None:
    # Two sets of one identity, switched on some reports apart in the same boot number.
    fresh = PackFreshness()
    for sequence in range(1, 101):
        assert fresh.take(1, sequence, frame(f"one {sequence}")) is Fresh.NEW
    # 100 is the highest: 93 to 100 are the last 8 numbers, 37 to 100 the window.
    verdicts = [fresh.take(1, sequence, frame(f"two {sequence}")) for sequence in range(1, 101)]
    assert verdicts == [Reject.TOO_OLD] * 36 + [Reject.TWIN] * 64
    verdicts = [fresh.take(1, sequence, frame(f"one {sequence}")) for sequence in range(1, 101)]
    assert verdicts == [Reject.TOO_OLD] * 36 + [Reject.REPEATED] * 56 + [Reject.COPY] * 8


def test_a_restart_with_the_same_boot_is_refused_and_a_higher_boot_is_taken() -> None:
    fresh = PackFreshness()
    assert fresh.take(7, 200, frame("a")) is Fresh.NEW
    assert fresh.take(7, 1, frame("b")) is Reject.TOO_OLD
    assert fresh.take(8, 1, frame("c")) is Fresh.NEW
    assert fresh.take(7, 201, frame("d")) is Reject.BOOT_BACK
    assert fresh.boot == 8


def test_kept_across_incidents_as_numbers_and_marks() -> None:
    fresh = PackFreshness()
    for sequence in (1, 2, 40):
        fresh.take(3, sequence, frame("a"))
    # Highest 40: bit 0; 2 and 1 are 38 and 39 back.
    assert fresh.exported()[:3] == (3, 40, 1 | 1 << 38 | 1 << 39)
    # Three numbers of 64 have a mark of 4 bytes.
    marks = fresh.exported()[3]
    assert [n for n in range(64) if marks[4 * n : 4 * n + 4] != bytes(4)] == [1, 2, 40]
    again = PackFreshness.restored(fresh.exported())
    assert again.exported() == fresh.exported()
    assert again.take(3, 40, frame("a")) is Reject.REPEATED
    assert again.take(3, 39, frame("late")) is Fresh.NEW
    assert again.take(2, 50, frame("a")) is Reject.BOOT_BACK


def test_other_contents_under_a_number_of_an_earlier_incident_are_no_repetition() -> None:
    fresh = PackFreshness()
    for sequence in range(1, 101):
        fresh.take(3, sequence, frame(f"one {sequence}"))
    again = PackFreshness.restored(fresh.exported())
    # What lay in the window is told apart by its mark; a copy is none after so long.
    for sequence in range(37, 101):
        assert again.take(3, sequence, frame(f"one {sequence}")) is Reject.REPEATED
        assert again.take(3, sequence, frame(f"two {sequence}")) is Reject.TWIN
    # Where only the numbers were kept nothing tells them apart: it may be a pack, and is taken so.
    boot, highest, bitmap, _ = fresh.exported()
    bare = PackFreshness.restored((boot, highest, bitmap, b""))
    assert bare.take(3, 100, frame("two 100")) is Reject.TWIN
    assert bare.take(3, 100, frame("one 100")) is Reject.TWIN


@pytest.mark.parametrize(
    "numbers",
    [(-1, 0, 0, b""), (1, -1, 0, b""), (1, 1, 1 << 64, b""), (1, 2), (1, 2, 3), (1, 2, 3, b"1")],
)
def test_numbers_that_no_freshness_has(numbers: Any) -> None:
    with pytest.raises(ValueError, match=r"freshness|unpack"):
        PackFreshness.restored(numbers)


def test_enrolled_again_the_next_frame_is_a_new_beginning() -> None:
    fresh = PackFreshness()
    fresh.take(9, 500, frame("a"))
    assert fresh.take(2, 1, frame("b")) is Reject.BOOT_BACK
    fresh.enrol_again()
    assert fresh.take(2, 2, frame("c")) is Fresh.NEW
    assert fresh.take(1, 1, frame("d")) is Reject.BOOT_BACK


@pytest.mark.parametrize("boot", [2, 9])
def test_what_was_heard_before_enrolling_again_stays_old(boot: int) -> None:
    """In a lower boot, or in the same with lower numbers."""
    fresh = PackFreshness()
    fresh.take(9, 500, frame("a"))
    fresh.enrol_again()
    assert fresh.take(boot, 2, frame("c")) is Fresh.NEW
    for sequence in (100, 499, 500):
        assert fresh.take(9, sequence, frame("recorded")) is Reject.TOO_OLD
    assert fresh.take(boot, 3, frame("e")) is Fresh.NEW
    # With its own numbers it gets there, one by one; and with something else that tells of now.
    assert fresh.take(9, 100, frame("f"), of_now=True) is Fresh.NEW
    for sequence in range(101, 502):
        assert fresh.take(9, sequence, frame("g")) is Fresh.NEW
    assert fresh.take(10, 1, frame("h")) is Fresh.NEW


def test_what_was_known_before_this_session_stays_old_too() -> None:
    earlier, fresh = PackFreshness(), PackFreshness()
    earlier.take(9, 500, frame("a"))
    fresh.enrol_again()
    fresh.enrolled_after(earlier)
    assert fresh.take(2, 1, frame("c")) is Fresh.NEW
    assert fresh.take(9, 400, frame("recorded")) is Reject.TOO_OLD


# ---------------------------------------------------------------- beacons and proof


def test_a_beacon_is_recent_for_sixty_seconds_and_no_longer() -> None:
    beacons = Beacons()
    beacons.sent(4711, 10 * S)
    assert beacons.recent(4711, 10 * S)
    assert beacons.recent(4711, 70 * S)
    assert not beacons.recent(4711, 70 * S + 1)
    assert not beacons.recent(4712, 10 * S)
    assert not beacons.recent(0, 10 * S)


def test_beacons_given_from_before_still_count() -> None:
    assert Beacons([(4711, 5 * S)]).recent(4711, 6 * S)


def test_beacons_remembered_are_bounded_and_their_values_differ() -> None:
    beacons, random = Beacons(), Random(1)
    values = []
    for step in range(BEACONS_MAX):
        values.append(beacons.next_value(random))
        beacons.sent(values[-1], step)
    assert len(set(values)) == BEACONS_MAX
    assert all(1 <= value <= 0xFFFF_FFFF for value in values)
    for step in range(3 * BEACONS_MAX):
        beacons.sent(1 + step, step)
    assert len(beacons._sent) == BEACONS_MAX


class Repeating(Random):
    """Gives the same value twice, then another."""

    def __init__(self) -> None:
        super().__init__(0)
        self.asked = 0

    def randint(self, a: int, b: int) -> int:
        assert (a, b) == (1, 0xFFFF_FFFF)
        self.asked += 1
        return 7 if self.asked < 3 else 8


def test_a_value_in_use_is_not_taken_again() -> None:
    beacons, random = Beacons(), Repeating()
    beacons.sent(beacons.next_value(random), 0)
    assert beacons.next_value(random) == 8
    assert random.asked == 3


def test_proof_comes_with_a_recent_beacon_and_stays_for_that_boot() -> None:
    beacons = Beacons()
    proof = Proof(beacons)
    beacons.sent(4711, 0)
    assert not proof.take(1, 5, 0, 1 * S)
    assert not proof.take(1, 5, 99, 2 * S)
    assert proof.take(1, 5, 4711, 3 * S)
    assert proof.take(1, 5, 0, 500 * S)
    assert not proof.take(1, 6, 4711, 500 * S)
    assert not proof.take(2, 5, 4711, 500 * S)
    proof.forget(1)
    assert not proof.take(1, 5, 0, 500 * S)
    proof.forget(1)


def test_a_proof_taken_up_again_holds_for_that_boot_alone() -> None:
    proof = Proof(Beacons())
    proof.restore(1, 5)
    assert proof.take(1, 5, 0, 0)
    assert not proof.take(1, 6, 0, 0)
    assert not proof.take(2, 5, 0, 0)


def test_a_recording_of_another_session_is_not_proven() -> None:
    recorded = Beacons()
    values = [recorded.next_value(Random(seed)) for seed in range(20)]
    mine = Beacons()
    mine.sent(next(v for v in range(1, 65536) if v not in values), 0)
    proof = Proof(mine)
    assert not any(proof.take(1, 5, value, S) for value in values)


def test_proofs_remembered_are_bounded() -> None:
    beacons = Beacons()
    beacons.sent(1, 0)
    proof = Proof(beacons)
    for identity in range(1, PROVEN_MAX + 2):
        proof.take(identity, 1, 1, 0)
    assert len(proof._boots) == PROVEN_MAX
    assert not proof.take(1, 1, 0, 0)
    assert proof.take(PROVEN_MAX + 1, 1, 0, 0)


# ---------------------------------------------------------------- orders


def order(
    sequence: int, number: int = 1, boot: int = 7, what: OrderKind = OrderKind.EVACUATE
) -> Order:
    return Order(1, boot, sequence, 1, True, 9, number, what)


def gate(last: int = 100) -> OrderGate:
    """A pack at boot 7 that has sent 1 to ``last``, one a second."""
    made = OrderGate(7)
    for sequence in range(1, last + 1):
        made.sent(sequence, sequence * S)
    return made


def test_an_order_is_new_once_and_then_only_answered() -> None:
    pack = gate()
    assert pack.take(order(100), 100 * S) is Fresh.NEW
    assert pack.take(order(100), 100 * S) is Fresh.REPEAT
    assert pack.highest == 1
    assert pack.take(order(100, number=5), 100 * S) is Fresh.NEW
    assert pack.take(order(100, number=4), 100 * S) is Reject.ORDER_PASSED
    assert pack.highest == 5


@pytest.mark.parametrize(
    ("sequence", "boot", "now", "verdict"),
    [
        (100, 7, 100, Fresh.NEW),
        (100, 7, 160, Fresh.NEW),
        (100, 7, 161, Reject.ORDER_LATE),
        (101, 7, 100, Reject.ORDER_AHEAD),
        (37, 7, 97, Fresh.NEW),  # 100 - 63: the oldest of the last 64
        (36, 7, 96, Reject.ORDER_TOO_OLD),
        (100, 6, 100, Reject.ORDER_BOOT),
        (100, 8, 100, Reject.ORDER_BOOT),
    ],
)
def test_what_makes_an_order_fresh(
    sequence: int, boot: int, now: int, verdict: Fresh | Reject
) -> None:
    assert gate().take(order(sequence, boot=boot), now * S) is verdict


def test_a_pack_that_has_sent_nothing_takes_no_order() -> None:
    assert OrderGate(7).take(order(1), 0) is Reject.ORDER_AHEAD


def test_a_refused_order_does_not_raise_the_number() -> None:
    pack = gate()
    pack.take(order(101, number=9), 100 * S)
    assert pack.highest == 0


def test_the_button_never_means_a_confirmation() -> None:
    pack = gate()
    pack.take(order(100, number=4, what=OrderKind.DISTRESS_CONFIRMED), 100 * S)
    assert (pack.highest, pack.asked) == (4, 0)
    pack.take(order(100, number=5), 100 * S)
    pack.take(order(100, number=6, what=OrderKind.COMING_OUT_CONFIRMED), 100 * S)
    assert (pack.highest, pack.asked) == (6, 5)
    pack.take(order(100, number=7, what=OrderKind.ROLL_CALL), 100 * S)
    assert (pack.highest, pack.asked) == (7, 7)


# ---------------------------------------------------------------- losses


def account(*sequences: int, boot: int = 1) -> SequenceAccount:
    made = SequenceAccount()
    for sequence in sequences:
        made.take(boot, sequence)
    return made


@pytest.mark.parametrize(
    ("sequences", "taken", "lost", "bursts"),
    [
        ((), 0, 0, 0),
        ((1, 2, 3), 3, 0, 0),
        ((50, 51), 2, 0, 0),  # what went before is not loss
        ((1, 3), 2, 1, 1),  # one lost packet counts as one
        ((1, 3, 2), 3, 0, 0),  # a late one takes its loss back
        ((1, 5), 2, 3, 1),
        ((1, 5, 2), 3, 2, 1),  # the burst begins later
        ((1, 5, 4), 3, 2, 1),  # or ends earlier
        ((1, 5, 3), 3, 2, 2),  # or is cut in two
        ((1, 5, 3, 2, 4), 5, 0, 0),
        ((10, 11, 5), 3, 0, 0),  # late, and from before the first
        ((1, 65, 2), 3, 62, 1),  # as far back as the window reaches
    ],
)
def test_gaps(sequences: tuple[int, ...], taken: int, lost: int, bursts: int) -> None:
    made = account(*sequences)
    assert (made.taken, made.lost, made.bursts) == (taken, lost, bursts)


def test_the_gap_before_a_frame_is_told() -> None:
    made = SequenceAccount()
    assert [made.take(1, n) for n in (1, 2, 6, 4, 7)] == [0, 0, 3, -1, 0]


def test_share_and_mean_burst() -> None:
    made = account(1, 4, 5, 7, 8)  # lost 2, 3, 6: two bursts among eight sent
    assert made.loss_share == pytest.approx(3 / 8)
    assert made.mean_burst == pytest.approx(3 / 2)
    assert account().loss_share == 0
    assert account(1).mean_burst == 0


def test_a_new_boot_keeps_the_losses_and_begins_its_own_numbers() -> None:
    made = account(1, 3)
    assert made.take(2, 40) == 0
    assert made.take(2, 42) == 1
    assert (made.taken, made.lost, made.bursts) == (4, 2, 2)


def test_a_number_taken_before_changes_nothing() -> None:
    made = account(1, 4, 4, 1, 2, 2)
    assert (made.taken, made.lost, made.bursts) == (3, 1, 1)


def test_beginning_again_keeps_the_counts() -> None:
    made = account(1, 3)
    made.begin_again()
    assert made.take(1, 1) == 0
    assert (made.taken, made.lost, made.bursts) == (3, 1, 1)


def test_a_leap_is_no_loss() -> None:
    made = account(1)
    assert made.take(1, 2 + GAP_MAX) == GAP_MAX
    assert made.take(1, 4 + 2 * GAP_MAX) == 0
    assert made.lost == GAP_MAX


def test_one_too_far_back_to_be_new_changes_nothing_but_the_count() -> None:
    made = account(1, 100)
    made.take(1, 2)
    assert (made.taken, made.lost, made.bursts) == (3, 98, 1)


@given(st.sets(st.integers(2, 60)), st.randoms(use_true_random=False))
@settings(max_examples=100)
def test_any_order_of_arrival_ends_in_the_same_account(heard: set[int], random: Random) -> None:
    # First and last fixed, so that the same numbers are missing whatever the order.
    late = sorted(heard)
    random.shuffle(late)
    made = account(1, 61, *late)
    missing = "".join("." if n in heard else "x" for n in range(2, 61))
    assert made.taken == 2 + len(heard)
    assert made.lost == missing.count("x")
    assert made.bursts == len([run for run in missing.split(".") if run])


@given(st.integers(1, 40), st.integers(1, 200), st.integers(0, 200))
def test_many_told_at_once_count_as_if_they_had_come_one_by_one(
    first: int, more: int, lost: int
) -> None:
    """The first ``lost`` of ``lost + more`` numbers are missing: one burst."""
    last = first + lost + more
    single = account(first, *range(first + lost + 1, last + 1))
    together = account(first)
    together.also(last, more)
    assert (together.taken, together.lost, together.bursts) == (1 + more, lost, int(lost > 0))
    assert (single.taken, single.lost, single.bursts) == (1 + more, lost, int(lost > 0))
    # What comes after, late or in order, is then counted alike.
    for sequence in (last, last - 1, last + 2, last + 1):
        assert together.take(1, sequence) == single.take(1, sequence)
    assert (together.taken, together.lost) == (single.taken, single.lost)


def test_many_told_at_once_that_are_no_news_change_nothing() -> None:
    made = account(1, 5)
    made.also(5, 3)
    made.also(4, 1)
    made.also(6 + GAP_MAX, 3)
    assert (made.taken, made.lost, made.highest) == (2, 3, 5)


@given(st.integers(1, 90), st.integers(1, 90))
def test_numbers_that_have_passed_are_taken(before: int, ahead: int) -> None:
    """RFC 4303 3.4.3: marked and in the window, 64 wide, is a repetition; left of it too old."""
    fresh = PackFreshness()
    fresh.take(3, before, b"before" * 4)
    fresh.passed(3, before + ahead)
    assert fresh.highest == before + ahead
    for back in range(ahead):
        verdict = fresh.take(3, before + ahead - back, b"anything" * 4)
        assert verdict is (Reject.REPEATED if back < 64 else Reject.TOO_OLD)
    assert fresh.take(3, before + ahead + 1, b"anything" * 4) is Fresh.NEW


def test_of_another_boot_or_not_ahead_nothing_has_passed() -> None:
    fresh = PackFreshness()
    fresh.take(3, 10, b"frame" * 4)
    fresh.passed(2, 40)
    fresh.passed(3, 10)
    assert fresh.exported()[:2] == (3, 10)


# ---------------------------------------------------------------- taken up again


@given(
    st.lists(st.tuples(st.integers(1, 2), st.integers(1, 150)), max_size=40),
    st.lists(st.tuples(st.integers(1, 2), st.integers(1, 150)), max_size=40),
    st.lists(st.tuples(st.integers(1, 3), st.integers(1, 160)), max_size=40),
)
@settings(max_examples=300)
def test_what_was_known_before_can_be_put_before_afterwards(
    before: list[tuple[int, int]], then: list[tuple[int, int]], next_: list[tuple[int, int]]
) -> None:
    """The same as having started from it: the same numbers, and the same verdict on every frame."""
    earlier = PackFreshness()
    for boot, sequence in before:
        earlier.take(boot, sequence, bytes([boot, sequence]) * 8)
    numbers = earlier.exported()
    right, later = PackFreshness.restored(numbers), PackFreshness()
    for boot, sequence in then:
        for one in (right, later):
            one.take(boot, sequence, bytes([boot, sequence]) * 8)
    kept = later.exported()
    joined = later.after(PackFreshness.restored(numbers))
    assert joined.exported() == right.exported()
    assert later.exported() == kept
    for boot, sequence in next_:
        for mark in (bytes([boot, sequence]), b"\xaa\xbb"):
            frame = mark * 8
            assert joined.take(boot, sequence, frame) == right.take(boot, sequence, frame)


def test_a_window_seen_from_further_on() -> None:
    window = Window(10, 0b101)
    assert window.seen(10) == 0b101
    assert window.seen(12) == 0b10100
    assert window.seen(10 + 63) == 1 << 63
    assert window.seen(10 + 64) == window.seen(10**12) == 0
