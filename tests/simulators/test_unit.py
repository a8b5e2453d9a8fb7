from itertools import pairwise

import pytest

from protocol import codec
from protocol.packets import Kind, Order, OrderKind, Receipt, ReceiptKind, Report
from simulators.pack import Outgoing
from simulators.radio import Radio
from simulators.scenario import PackPlan
from simulators.unit import NEVER_NS, Unit

S = 1_000_000_000


def unit(*deeds: dict[str, object], boots_before: int = 0, **plan: object) -> Unit:
    whole = {"pack": 1, "wearer": 1, "low_air_bar": 105, "breathing": 1.0, "deeds": deeds, **plan}
    return Unit(PackPlan.model_validate(whole), Radio(), 1, keys=None, boots_before=boots_before)


def on(at_s: float = 0.0) -> dict[str, object]:
    return {"at_s": at_s, "does": "switch_on"}


def run(one: Unit, to_ns: int) -> list[tuple[int, Outgoing]]:
    sent: list[tuple[int, Outgoing]] = []
    while one.due_ns <= to_ns:
        now_ns = one.due_ns
        frames, _ = one.step(now_ns)
        sent += [(now_ns, out) for out in frames]
        assert one.due_ns > now_ns, "a step must lead on"
    return sent


def reports(sent: list[tuple[int, Outgoing]]) -> list[tuple[int, Report]]:
    packets = [(t, codec.decode(out.frame)) for t, out in sent if not out.copy]
    return [(t, packet) for t, packet in packets if isinstance(packet, Report)]


def test_nothing_happens_before_the_first_deed() -> None:
    one = unit(on(12.5))
    assert one.due_ns == 12.5 * S
    assert unit().due_ns == NEVER_NS


def test_motion_deadlines_are_exact() -> None:
    one = unit(on(), {"at_s": 40, "does": "still", "for_s": 26})
    events = [(t, p) for t, p in reports(run(one, 120 * S)) if p.kind is Kind.EVENT]
    assert [(t, p.motion.name) for t, p in events] == [
        (60 * S, "PRE_ALARM"),
        (66 * S, "MOVING"),
    ]


def test_a_collapse_alarms_until_moved_and_reset() -> None:
    one = unit(
        on(),
        {"at_s": 10, "does": "collapse"},
        {"at_s": 100, "does": "reset_motion"},
        {"at_s": 110, "does": "move"},
        {"at_s": 111, "does": "reset_motion"},
    )
    events = [(t, p) for t, p in reports(run(one, 130 * S)) if p.kind is Kind.EVENT]
    assert [(t, p.motion.name) for t, p in events] == [
        (30 * S, "PRE_ALARM"),
        (40 * S, "ALARM"),
        (100 * S, "MOVING"),  # the sensor is set back ...
        (100 * S, "ALARM"),  # ... and finds that nothing moves
        (111 * S, "MOVING"),
    ]


def test_air_is_used_on_air_only() -> None:
    one = unit(
        on(), {"at_s": 60, "does": "breathe", "work": "search"}, {"at_s": 120, "does": "off_air"},
        fill_bar=200,
    )  # fmt: skip
    found = reports(run(one, 300 * S))
    assert all(p.pressure_dbar == 2000 for t, p in found if t < 60 * S)
    on_air = [p.pressure_dbar for t, p in found if 60 * S < t < 120 * S]
    assert all(b is not None and a is not None and b <= a for a, b in pairwise(on_air))
    (after_dbar,) = {p.pressure_dbar for t, p in found if t > 121 * S}
    assert after_dbar is not None
    # A minute of search from rest: 49.9 less what the lag spares, (49.9 - 10) x
    # (1 - exp(-.93)) / .93 = 26, gives 24 L; 8.7 bar for 50 L in 6.8 L near 200 bar.
    assert 200 - after_dbar / 10 == pytest.approx(24 * 8.7 / 50, abs=0.8)


def test_the_gauge_never_shows_more_than_there_is() -> None:
    one = unit(on(), {"at_s": 1, "does": "breathe", "work": "tasks"})
    while one.due_ns <= 120 * S:
        for out in one.step(one.due_ns)[0]:
            packet = codec.decode(out.frame)
            if isinstance(packet, Report) and not out.copy:
                assert packet.pressure_dbar is not None
                assert -0.001 <= one.truth().pressure_bar * 10 - packet.pressure_dbar < 1.01


def test_low_air_comes_from_the_cylinder() -> None:
    one = unit(on(), {"at_s": 5, "does": "breathe", "work": "climb"}, fill_bar=108)
    events = [(t, p) for t, p in reports(run(one, 120 * S)) if p.kind is Kind.EVENT]
    assert [p.low_air for _, p in events] == [True]
    assert events[0][1].pressure_dbar in range(1040, 1051)


def test_a_leak_takes_air_from_an_idle_set() -> None:
    one = unit(
        on(), {"at_s": 10, "does": "leak", "l_min": 60}, {"at_s": 70, "does": "leak", "l_min": 0}
    )
    before = one.truth().usable_l
    run(one, 200 * S)
    assert before - one.truth().usable_l == pytest.approx(60.0, abs=0.01)


def test_gas_warms_and_pressure_rises_with_it() -> None:
    one = unit(on(), {"at_s": 1, "does": "surroundings", "celsius": 40}, fill_bar=300, gas_c=15)
    run(one, 3000 * S)
    # Table of a 300 bar cylinder filled at 15 C: 341.2 bar at 40 C.
    assert one.truth().gas_c == pytest.approx(40, abs=0.1)
    assert one.truth().pressure_bar == pytest.approx(341.2, abs=2.0)


def test_a_pack_without_gas_sensor_says_so() -> None:
    one = unit(on(), tells_gas_c=False)
    assert all(p.gas_temperature_c is None for _, p in reports(run(one, 30 * S)))


def test_switching_on_again_is_the_next_boot() -> None:
    one = unit(on(), on(10), {"at_s": 20, "does": "switch_off"}, on(30), boot=40, boots_before=1000)
    found = reports(run(one, 60 * S))
    assert {p.boot for t, p in found if t < 30 * S} == {1040}
    assert {p.boot for t, p in found if t >= 30 * S} == {1041}
    assert next(p for t, p in found if t >= 30 * S).sequence == 1


def test_buttons_of_a_pack_that_is_off_do_nothing() -> None:
    deeds: list[dict[str, object]] = [
        {"at_s": 1, "does": does} for does in ("distress", "coming_out", "switch_off")
    ]
    one = unit(*deeds)
    assert run(one, 10 * S) == []


def ordered(what: OrderKind, *deeds: dict[str, object]) -> list[Receipt]:
    one = unit(on(), *deeds)
    sent = run(one, 20 * S)
    last = max(out.sequence for _, out in sent)
    frame = codec.encode(Order(1, 1, last, 0, False, 9, 1, what), None)
    assert one.hear(20 * S, frame) is not None
    packets = [codec.decode(out.frame) for _, out in run(one, 60 * S) if not out.copy]
    return [packet for packet in packets if isinstance(packet, Receipt)]


def test_a_wearer_answers_an_evacuation_and_comes_out() -> None:
    assert [r.answer for r in ordered(OrderKind.EVACUATE)] == [
        ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED, ReceiptKind.COMING_OUT,
    ]  # fmt: skip


def test_a_roll_call_is_answered_and_no_more() -> None:
    assert [r.answer for r in ordered(OrderKind.ROLL_CALL)] == [
        ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED,
    ]  # fmt: skip


def test_who_lies_still_does_not_answer_but_the_pack_does() -> None:
    still = {"at_s": 19, "does": "collapse"}
    assert [r.answer for r in ordered(OrderKind.EVACUATE, still)] == [ReceiptKind.RECEIVED]


def test_a_confirmed_distress_needs_no_button() -> None:
    assert [r.answer for r in ordered(OrderKind.DISTRESS_CONFIRMED)] == [ReceiptKind.RECEIVED]


def test_a_pack_never_switched_on_hears_nothing() -> None:
    assert unit().hear(0, b"") is None
