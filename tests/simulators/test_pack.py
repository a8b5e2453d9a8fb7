from dataclasses import replace
from itertools import pairwise

import pytest

from protocol import codec
from protocol.integrity import Keyring, PackKeys
from protocol.packets import Beacon, Kind, Motion, Order, OrderKind, Receipt, ReceiptKind, Report
from simulators.pack import Build, Outgoing, Pack, Senses, equipment
from simulators.randoms import child
from simulators.tone import Tone

S = 1_000_000_000
IDENTITY = 101


def switched_on(
    keys: PackKeys | None = None, interval_s: int = 5, at_ns: int = 0, seed: int = 1
) -> Pack:
    build = Build(IDENTITY, 7, interval_s, equipment(300, 6.8, 105), 95, keys)
    return Pack(build, child(seed, "electronics"), Senses(2960, 15, at_ns), at_ns)


def run(pack: Pack, to_ns: int) -> list[tuple[int, Outgoing]]:
    """Everything it sends up to then, by itself."""
    sent: list[tuple[int, Outgoing]] = []
    while pack.due_ns is not None and pack.due_ns <= to_ns:
        now_ns = pack.due_ns
        sent += [(now_ns, out) for out in pack.send(now_ns)]
    return sent


def report(out: Outgoing) -> Report:
    packet = codec.decode(out.frame)
    assert isinstance(packet, Report)
    return packet


def receipt(out: Outgoing) -> Receipt:
    packet = codec.decode(out.frame)
    assert isinstance(packet, Receipt)
    return packet


def test_it_signs_on_at_once_and_says_what_it_is() -> None:
    pack = switched_on(at_ns=3 * S)
    assert pack.due_ns == 3 * S
    first = report(pack.send(3 * S)[0])
    assert (first.kind, first.identity, first.boot, first.sequence) == (
        Kind.SIGN_ON, IDENTITY, 7, 1,
    )  # fmt: skip
    assert first.equipment is not None
    assert first.equipment.rated_pressure_dbar == 3000
    assert first.equipment.water_volume_cl == 680
    assert first.equipment.low_air_dbar == 1050
    assert (first.pressure_dbar, first.gas_temperature_c, first.uptime_ms) == (2960, 15, 0)


@pytest.mark.parametrize("interval_s", [1, 5, 10, 60])
def test_reports_keep_to_their_interval(interval_s: int) -> None:
    pack = switched_on(interval_s=interval_s)
    sent = [(t, out) for t, out in run(pack, 600 * S) if not out.copy][1:]
    for (earlier, _), (later, out) in pairwise(sent):
        assert 0.9 * interval_s * S <= later - earlier <= interval_s * S
        assert report(out).interval_s == interval_s
    # Spread evenly from 0.9 to 1.0 of the interval.
    mean = (sent[-1][0] - sent[0][0]) / (len(sent) - 1)
    assert mean == pytest.approx(0.95 * interval_s * S, rel=0.05)


@pytest.mark.parametrize("interval_s", [1, 5, 30, 60])
def test_the_equipment_is_told_again_at_least_every_60_s(interval_s: int) -> None:
    sent = [
        t for t, out in run(switched_on(interval_s=interval_s), 900 * S)
        if out.kind is Kind.SIGN_ON and not out.copy
    ]  # fmt: skip
    assert all(later - earlier <= 60 * S for earlier, later in pairwise(sent))
    assert len(sent) >= 15


def test_copies_are_the_same_to_the_byte_and_numbers_rise() -> None:
    sent = [out for _, out in run(switched_on(), 60 * S)]
    by_sequence: dict[int, set[bytes]] = {}
    for out in sent:
        by_sequence.setdefault(out.sequence, set()).add(out.frame)
    assert all(len(frames) == 1 for frames in by_sequence.values())
    assert sorted(by_sequence) == list(range(1, len(by_sequence) + 1))


def test_motion_warns_at_20_s_alarms_at_30_s_and_not_before() -> None:
    pack = switched_on()
    run(pack, S)
    for t, expected in [
        (3 * S - 1, Motion.MOVING),
        (3 * S, Motion.STILL),
        (20 * S - 1, Motion.STILL),
        (20 * S, Motion.PRE_ALARM),
        (30 * S - 1, Motion.PRE_ALARM),
        (30 * S, Motion.ALARM),
    ]:
        pack.sense(t, Senses(2960, 15, 0))
        assert pack.motion is expected


def test_a_move_clears_the_warning_but_not_the_alarm() -> None:
    pack = switched_on()
    pack.sense(25 * S, Senses(2960, 15, 0))
    assert pack.motion_due_ns == 30 * S
    pack.sense(26 * S, Senses(2960, 15, 26 * S))
    assert pack.motion.name == "MOVING"
    pack.sense(60 * S, Senses(2960, 15, 26 * S))
    assert pack.motion.name == "ALARM"
    assert pack.motion_due_ns is None
    pack.sense(61 * S, Senses(2960, 15, 61 * S))
    assert pack.motion is Motion.ALARM
    pack.reset_motion(62 * S)
    pack.sense(62 * S, Senses(2960, 15, 62 * S))
    assert pack.motion is Motion.MOVING


def test_what_matters_is_sent_at_once_with_copies() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.sense(10 * S, Senses(1050, 15, 10 * S))
    sent = [(t, out) for t, out in run(pack, 12 * S) if out.kind is Kind.EVENT]
    assert [out.copy for _, out in sent] == [0, 1, 2, 3]
    assert sent[0][0] == 10 * S
    assert all(0.1 * S <= b - a <= 0.4 * S for (a, _), (b, _) in pairwise(sent))
    assert report(sent[0][1]).low_air
    assert report(sent[0][1]).pressure_dbar == 1050


def test_low_air_is_at_the_value_not_before() -> None:
    pack = switched_on()
    pack.sense(S, Senses(1051, 15, S))
    assert not pack.low_air
    pack.sense(S, Senses(1050, 15, S))
    assert pack.low_air


def test_distress_is_sent_once_and_kept_in_every_report() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.press_distress(10 * S, on=True)
    pack.press_distress(11 * S, on=True)
    sent = [out for _, out in run(pack, 30 * S)]
    assert len({out.sequence for out in sent if out.kind is Kind.EVENT}) == 1
    assert all(report(out).distress for out in sent)
    pack.press_distress(31 * S, on=False)
    assert not report(pack.send(31 * S)[-1]).distress


def test_sign_off_is_five_copies_and_then_silence() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.press_distress(10 * S, on=True)
    pack.switch_off(10 * S)
    pack.switch_off(10 * S)
    sent = [out for _, out in run(pack, 600 * S)]
    assert [(out.kind, out.copy) for out in sent] == [(Kind.SIGN_OFF, n) for n in range(5)]
    assert pack.due_ns is None
    pack.sense(20 * S, Senses(0, 15, 0))
    pack.press_distress(20 * S, on=False)
    pack.say_coming_out(20 * S)
    assert pack.due_ns is None
    assert pack.motion_due_ns is None


def test_it_answers_with_the_last_beacon() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.hear(10 * S, codec.encode(Beacon(9, 1, 1, 0, False, 0x8F3C12A7), None))
    assert all(report(out).beacon_heard == 0x8F3C12A7 for _, out in run(pack, 20 * S))


def order(
    sequence: int,
    number: int = 1,
    boot: int = 7,
    identity: int = IDENTITY,
    what: OrderKind = OrderKind.EVACUATE,
) -> bytes:
    packet = Order(identity, boot, sequence, 0, False, 9, number, what)
    return codec.encode(packet, None)


def test_an_order_is_received_acknowledged_and_repeated_in_reports() -> None:
    pack = switched_on()
    sent = run(pack, 10 * S)
    heard = pack.hear(10 * S, order(sent[-1][1].sequence))
    assert heard is not None
    assert heard.what is OrderKind.EVACUATE
    answers = [receipt(o) for _, o in run(pack, 11 * S) if o.kind is Kind.RECEIPT]
    assert {(a.answer, a.order) for a in answers} == {(ReceiptKind.RECEIVED, 1)}
    pack.acknowledge(12 * S)
    pack.acknowledge(12 * S)
    pack.say_coming_out(13 * S)
    rest = [out for _, out in run(pack, 30 * S)]
    answers = [receipt(o) for o in rest if o.kind is Kind.RECEIPT and not o.copy]
    assert [(a.answer, a.order) for a in answers] == [
        (ReceiptKind.ACKNOWLEDGED, 1), (ReceiptKind.COMING_OUT, 1),
    ]  # fmt: skip
    last = report([out for out in rest if out.kind is Kind.STATUS][-1])
    assert (last.order_received, last.order_acknowledged, last.coming_out) == (1, 1, True)


def test_an_order_heard_again_is_answered_but_not_new() -> None:
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    assert pack.hear(10 * S, order(sequence)) is not None
    run(pack, 11 * S)
    assert pack.hear(11 * S, order(sequence)) is None
    assert [out.kind for _, out in run(pack, 12 * S)].count(Kind.RECEIPT) == 1


def test_an_order_heard_twice_before_the_receipt_is_answered_once() -> None:
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    pack.hear(10 * S, order(sequence))
    pack.hear(10 * S + 1, order(sequence))
    answers = [out for _, out in run(pack, 12 * S) if out.kind is Kind.RECEIPT]
    assert [receipt(out).order for out in answers] == [1]


def test_another_set_of_equipment_is_told_at_once_and_begins_a_new_interval() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.refit(10 * S, replace(pack.build, equipment=equipment(200, 9, 55)))
    sent = [(t, out) for t, out in run(pack, 20 * S) if not out.copy]
    assert sent[0][1].kind is Kind.SIGN_ON
    assert sent[0][0] == 10 * S
    assert 14.5 * S <= sent[1][0] <= 15 * S


def test_packs_that_get_an_order_at_once_do_not_all_answer_at_once() -> None:
    """Once each, some time within a second: 0.05 to 1.0 s."""
    delays = []
    for seed in range(40):
        pack = switched_on(seed=seed)
        sequence = run(pack, 10 * S)[-1][1].sequence
        pack.hear(10 * S, order(sequence))
        answers = [t for t, out in run(pack, 12 * S) if out.kind is Kind.RECEIPT]
        assert len(answers) == 1
        delays.append((answers[0] - 10 * S) / S)
    assert 0.05 <= min(delays) < 0.2
    assert 0.8 < max(delays) <= 1.0


def test_the_button_answers_the_highest_order_that_asks_for_one() -> None:
    """A distress that is confirmed is received, and no more: the wearer has nothing to answer."""
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    confirmed = order(sequence, 3, what=OrderKind.DISTRESS_CONFIRMED)
    assert pack.hear(10 * S, order(sequence, 2)) is not None
    assert pack.hear(10 * S, confirmed) is not None
    pack.acknowledge(12 * S)
    answers = [receipt(out) for _, out in run(pack, 14 * S) if out.kind is Kind.RECEIPT]
    assert {(a.answer, a.order) for a in answers} == {
        (ReceiptKind.RECEIVED, 2), (ReceiptKind.RECEIVED, 3), (ReceiptKind.ACKNOWLEDGED, 2),
    }  # fmt: skip
    last = report(run(pack, 60 * S)[-1][1])
    assert (last.order_received, last.order_acknowledged) == (3, 2)


def test_the_button_alone_answers_nothing() -> None:
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    pack.acknowledge(10 * S)
    pack.hear(11 * S, order(sequence, what=OrderKind.DISTRESS_CONFIRMED))
    pack.acknowledge(12 * S)
    assert pack.order_acknowledged == 0


def test_an_evacuation_sounds_until_the_button_is_pressed() -> None:
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    pack.hear(10 * S, order(sequence, what=OrderKind.ROLL_CALL))
    assert pack.sounding is None
    pack.hear(11 * S, order(sequence, 2))
    pack.hear(12 * S, order(sequence, 3))
    assert pack.sounding == Tone(2, 11 * S)
    pack.acknowledge(15 * S)
    assert pack.sounding is None


def test_a_pack_that_goes_off_sounds_no_more() -> None:
    for dies in (True, False):
        pack = switched_on()
        pack.hear(11 * S, order(run(pack, 10 * S)[-1][1].sequence))
        assert pack.sounding is not None
        if dies:
            pack.die()
        else:
            pack.switch_off(12 * S)
        assert pack.sounding is None
        assert not pack.on


def test_a_dead_battery_says_nothing_any_more() -> None:
    pack = switched_on()
    run(pack, 10 * S)
    pack.press_distress(10 * S, on=True)
    pack.die()
    assert pack.due_ns is None
    assert run(pack, 600 * S) == []


def test_orders_that_are_not_fresh_or_not_its_own_do_nothing() -> None:
    pack = switched_on()
    sequence = run(pack, 10 * S)[-1][1].sequence
    for frame in (
        order(sequence, boot=6),
        order(sequence + 1),
        order(sequence, identity=IDENTITY + 1),
        b"",
        b"\x00" * 23,
    ):
        assert pack.hear(10 * S, frame) is None
    assert run(pack, 10 * S) == []
    assert {reason.name: count for reason, count in pack.refused.items()} == {
        "ORDER_BOOT": 1, "ORDER_AHEAD": 1, "OTHER_PACK": 1, "SHORT": 1, "CHECKSUM": 1,
    }  # fmt: skip


def test_a_pack_that_is_off_hears_nothing() -> None:
    pack = switched_on()
    pack.switch_off(S)
    assert pack.hear(S, order(1)) is None


def test_keyed_frames_are_genuine_and_open_orders_are_not_obeyed(keyring: Keyring) -> None:
    pack = switched_on(keyring.pack_keys(IDENTITY, 1))
    sent = run(pack, 10 * S)
    packets = [codec.receive(out.frame, keyring) for _, out in sent]
    assert all(isinstance(packet, Report) and packet.keyed for packet in packets)
    assert pack.hear(10 * S, order(sent[-1][1].sequence)) is None
    keyed = Order(IDENTITY, 7, sent[-1][1].sequence, 1, True, 9, 1, OrderKind.TEST)
    down = keyring.pack_key(IDENTITY, 1, up=False)
    assert pack.hear(10 * S, codec.encode(keyed, down)) is not None
