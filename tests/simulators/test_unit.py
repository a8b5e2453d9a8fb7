from itertools import pairwise

import pytest

from protocol import codec
from protocol.packets import Kind, Order, OrderKind, Receipt, ReceiptKind, Report
from simulators.answering import Answers, Manner
from simulators.channel import bases_of
from simulators.pack import Outgoing
from simulators.radio import Radio
from simulators.scenario import PackPlan, Place
from simulators.unit import NEVER_NS, OFF_AIR_NS, SWITCH_OFF_NS, Unit, World

S = 1_000_000_000
PLACES = {
    place.name: place
    for place in (Place(name="door", x_m=0, y_m=0), Place(name="loft", x_m=30, y_m=0, floor=2))
}


def unit(*deeds: dict[str, object], boots_before: int = 0, **plan: object) -> Unit:
    whole = {"pack": 1, "wearer": 1, "low_air_bar": 105, "breathing": 1.0, "deeds": deeds, **plan}
    radio = Radio()
    world = World(1, radio, bases_of(radio, {}, 1), PLACES, Answers(), boots_before)
    return Unit(PackPlan.model_validate(whole), world, None)


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
    after = [p.pressure_dbar for t, p in found if t > 121 * S]
    assert all(b is not None and a is not None and b <= a for b, a in pairwise(after))
    # A minute of search from rest: 49.9 less what the lag spares, (49.9 - 10) x
    # (1 - exp(-.93)) / .93 = 26, gives 24 L; 8.7 bar for 50 L in 6.8 L near 200 bar. The gas, a
    # degree or two colder by then, warms again by half of that, at 1 bar/K.
    last = after[-1]
    assert last is not None
    assert 200 - last / 10 == pytest.approx(24 * 8.7 / 50 + 1, abs=1)


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


def test_low_air_is_told_within_a_second_however_fast_the_air_goes() -> None:
    """From 286 bar, far above the value, at 2000 L/min: less than 5.5 bar a second in 6.8 L."""
    one = unit(on(), {"at_s": 7.4, "does": "leak", "l_min": 2000}, fill_bar=286)
    events = [p for _, p in reports(run(one, 120 * S)) if p.kind is Kind.EVENT]
    assert events[0].low_air
    assert 1050 - 55 <= (events[0].pressure_dbar or 0) <= 1050


def test_a_leak_takes_air_from_an_idle_set() -> None:
    one = unit(
        on(), {"at_s": 10, "does": "leak", "l_min": 60}, {"at_s": 70, "does": "leak", "l_min": 0}
    )
    before = one.truth().usable_l
    run(one, 200 * S)
    # Colder by a few degrees, the last atmosphere holds 0.1 L more that cannot be breathed.
    assert before - one.truth().usable_l == pytest.approx(60.0, abs=0.15)


def test_gas_warms_and_pressure_rises_with_it() -> None:
    one = unit(on(), {"at_s": 1, "does": "surroundings", "celsius": 40}, fill_bar=300, gas_c=15)
    run(one, 11_000 * S)
    # Seven time constants of wall and gas.
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


def order(one: Unit, what: OrderKind, number: int = 1) -> bytes:
    assert one.pack is not None
    build = one.pack.build
    packet = Order(1, build.boot, one.pack.sequence, 0, False, 9, number, what)
    return codec.encode(packet, None)


def receipts(sent: list[tuple[int, Outgoing]]) -> list[ReceiptKind]:
    packets = [codec.decode(out.frame) for _, out in sent if not out.copy]
    return [packet.answer for packet in packets if isinstance(packet, Receipt)]


def ordered(
    what: OrderKind, *deeds: dict[str, object], answers: Manner = "as ordered"
) -> list[ReceiptKind]:
    one = unit(on(), {"at_s": 1, "does": "breathe"}, *deeds, answers=answers)
    run(one, 20 * S)
    assert one.hear(20 * S, order(one, what)) is not None
    return receipts(run(one, 60 * S))


def test_a_wearer_answers_an_evacuation_and_comes_out() -> None:
    assert ordered(OrderKind.EVACUATE) == [
        ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED, ReceiptKind.COMING_OUT,
    ]  # fmt: skip


def test_a_roll_call_is_answered_and_no_more() -> None:
    assert ordered(OrderKind.ROLL_CALL) == [ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED]


def test_who_lies_still_does_not_answer_but_the_pack_does() -> None:
    still = {"at_s": 19, "does": "collapse"}
    assert ordered(OrderKind.EVACUATE, still) == [ReceiptKind.RECEIVED]


@pytest.mark.parametrize(
    "again", [{"at_s": 19, "does": "still", "for_s": 20}, {"at_s": 39, "does": "move"}]
)
def test_who_moves_again_answers_then(again: dict[str, object]) -> None:
    down: tuple[dict[str, object], ...] = ({"at_s": 19, "does": "collapse"}, again)
    found = ordered(OrderKind.EVACUATE, *(down if again["does"] == "move" else down[1:]))
    assert found[:2] == [ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED]


@pytest.mark.parametrize(
    ("manner", "answers"),
    [
        ("never", [ReceiptKind.RECEIVED]),
        ("stays", [ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED]),
    ],
)
def test_some_do_not_do_as_ordered(manner: Manner, answers: list[ReceiptKind]) -> None:
    assert ordered(OrderKind.EVACUATE, answers=manner) == answers


@pytest.mark.parametrize("what", [OrderKind.DISTRESS_CONFIRMED, OrderKind.COMING_OUT_CONFIRMED])
def test_a_confirmation_needs_no_button(what: OrderKind) -> None:
    assert ordered(what) == [ReceiptKind.RECEIVED]


def test_a_pack_never_switched_on_hears_nothing() -> None:
    assert unit().hear(0, b"") is None


# ---------------------------------------------------------------- the way in and out

IN: tuple[dict[str, object], ...] = (
    on(),
    {"at_s": 10, "does": "breathe", "work": "search"},
    {"at_s": 20, "does": "go", "to": "loft", "over_s": 90},
)


def test_an_order_to_come_out_is_obeyed_by_the_way_that_led_in() -> None:
    """Whatever the scenario planned: the wearer is at the door after as long as the way in took."""
    late = {"at_s": 210, "does": "work", "work": "heavy"}, {"at_s": 230, "does": "go", "to": "loft"}
    one = unit(*IN, *late, at="door")
    run(one, 200 * S)
    one.hear(200 * S, order(one, OrderKind.EVACUATE))
    sent = run(one, 600 * S)
    left = next(t for t, p in reports(sent) if p.coming_out)
    off = next(t for t, p in reports(sent) if p.kind is Kind.SIGN_OFF)
    assert 200 * S < left < 230 * S
    assert off == left + 90 * S + SWITCH_OFF_NS
    assert (one.person.out, one.person.on_air, one.person.place) == (True, False, "door")


def test_who_leaves_of_their_own_will_is_off_air_soon_after_the_door() -> None:
    one = unit(*IN, {"at_s": 200, "does": "leave"}, {"at_s": 250, "does": "leave"}, at="door")
    run(one, 200 * S)
    assert one.truth().way_back_s == 90
    run(one, 245 * S)
    assert one.truth().way_back_s == pytest.approx(45, abs=1.1)
    assert one.truth().place == ""
    assert one.truth().floor == pytest.approx(1, abs=0.03)
    run(one, 290 * S)
    assert (one.person.out, one.person.on_air) == (True, True)
    run(one, 290 * S + OFF_AIR_NS)
    assert not one.person.on_air


def test_who_is_at_the_door_only_answers() -> None:
    one = unit(on(), {"at_s": 60, "does": "breathe"}, at="door")
    run(one, 20 * S)
    one.hear(20 * S, order(one, OrderKind.EVACUATE))
    found = receipts(run(one, 100 * S))
    assert found == [ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED]
    assert not one.person.on_air, "after the order nobody goes in"


# ---------------------------------------------------------------- the tone


def test_the_tone_is_told_from_when_to_when() -> None:
    one = unit(on(), {"at_s": 1, "does": "breathe"})
    run(one, 20 * S)
    one.hear(20 * S, order(one, OrderKind.EVACUATE, 7))
    assert one.sounding is not None
    answered = next(t for t, out in run(one, 60 * S) if out.kind is Kind.RECEIPT and t > 21 * S)
    assert one.sounding is None
    ((tone, to_ns),) = one.tones
    assert (tone.order, tone.from_ns, to_ns) == (7, 20 * S, answered)


# ---------------------------------------------------------------- faults


def test_a_stuck_gauge_tells_the_same_until_it_is_free() -> None:
    one = unit(
        on(), {"at_s": 5, "does": "breathe", "work": "tasks"},
        {"at_s": 60, "does": "gauge_stuck"}, {"at_s": 180, "does": "gauge_free"},
    )  # fmt: skip
    found = [(t, p.pressure_dbar or 0) for t, p in reports(run(one, 240 * S))]
    stuck = {dbar for t, dbar in found if 60 * S <= t < 180 * S}
    assert len(stuck) == 1
    assert one.person.gauge_bar * 10 < min(stuck) - 100  # 3 min of 82 L are 30 bar
    assert found[-1][1] == pytest.approx(one.person.gauge_bar * 10, abs=11)


def test_a_dead_battery_is_silence_for_good() -> None:
    one = unit(on(), {"at_s": 60, "does": "battery_dead"}, on(90))
    assert max(t for t, _ in run(one, 600 * S)) < 60 * S
    assert not one.on


def test_a_reboot_begins_anew_after_a_while() -> None:
    one = unit(on(), {"at_s": 60, "does": "reboot", "off_s": 7}, {"at_s": 5, "does": "distress"})
    found = reports(run(one, 100 * S))
    before, after = found[-1][1].boot - 1, found[-1][1].boot
    assert [p.boot for t, p in found if t < 60 * S][-1] == before
    begun = [(t, p) for t, p in found if p.boot == after]
    assert (begun[0][0], begun[0][1].sequence, begun[0][1].distress) == (67 * S, 1, False)
    assert not [t for t, _ in found if 60 * S <= t < 67 * S]


def test_a_new_cylinder_is_for_those_off_air() -> None:
    new = {"does": "new_cylinder", "fill_bar": 290}
    one = unit(on(), {"at_s": 5, "does": "breathe"}, {"at_s": 9, **new}, fill_bar=150)
    run(one, 10 * S)
    assert one.person.gauge_bar < 150
    one = unit(on(), {"at_s": 9, **new}, fill_bar=150)
    run(one, 10 * S)
    assert one.person.gauge_bar == pytest.approx(290, abs=0.01)


def test_without_telemetry_there_is_a_wearer_and_no_frame() -> None:
    one = unit(on(), {"at_s": 5, "does": "breathe", "work": "search"}, pack=None)
    assert run(one, 120 * S) == []
    assert one.truth().pressure_bar < 299
    assert (one.truth().pack, one.on) == (None, False)
