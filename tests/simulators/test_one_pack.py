import re

import pytest

from protocol import codec
from protocol.integrity import Keyring, PackKeys
from protocol.packets import (
    Beacon,
    CheckResult,
    Kind,
    Motion,
    Order,
    OrderKind,
    Receipt,
    ReceiptKind,
    Report,
)
from simulators.one_pack import COMMANDS, LINE_LETTERS_MAX, OnePack, WrongLine
from simulators.pack import Build, equipment
from simulators.randoms import child

S = 1_000_000_000
IDENTITY = 101


def made(keys: PackKeys | None = None, interval_s: int = 5) -> OnePack:
    build = Build(IDENTITY, 7, interval_s, equipment(300, 6.8, 55), 95, keys)
    return OnePack(build, child(1, "one"), 0)


def played(one: OnePack, from_s: int, to_s: int) -> list[Report | Receipt]:
    """Everything that left the antenna in between, looked at ten times a second."""
    sent = []
    for tenth in range(from_s * 10, to_s * 10 + 1):
        for frame in one.step(tenth * S // 10):
            packet = codec.decode(frame)
            assert isinstance(packet, Report | Receipt)
            sent.append(packet)
    return sent


def last(one: OnePack, from_s: int, to_s: int) -> Report:
    reports = [packet for packet in played(one, from_s, to_s) if isinstance(packet, Report)]
    return reports[-1]


def order(one: OnePack, number: int, boot: int = 7) -> bytes:
    packet = Order(IDENTITY, boot, one.pack.sequence, 0, False, 9, number, OrderKind.EVACUATE)
    return codec.encode(packet, None)


def test_fields_are_set_by_lines() -> None:
    one = made()
    played(one, 0, 2)
    for line in (
        "pressure 123.4", "gas unknown", "battery 15", "interval 3", "motion still",
        "test air failed", "low-air 60", "rated 200", "volume 9",
    ):  # fmt: skip
        assert one.command(2 * S, line) == ""
    found = last(one, 2, 10)
    assert (found.pressure_dbar, found.gas_temperature_c, found.battery_percent) == (1234, None, 15)
    assert (found.interval_s, found.motion) == (3, Motion.STILL)
    assert found.air_warning_test is CheckResult.FAILED
    kit = one.pack.build.equipment
    assert (kit.low_air_dbar, kit.rated_pressure_dbar, kit.water_volume_cl) == (600, 2000, 900)


def test_what_is_not_known_is_sent_as_that() -> None:
    one = made()
    for line in ("pressure unknown", "battery unknown", "volume unknown"):
        one.command(0, line)
    found = last(one, 0, 6)
    assert (found.pressure_dbar, found.battery_percent) == (None, None)
    assert one.told().startswith("pack 101, boot 7, on; pressure unknown")


def test_what_is_breathed_is_gone() -> None:
    # 68 L/min out of 6.8 L is 10 bar a minute by p x V: 300 bar are 290 after it.
    one = made()
    one.command(0, "rate 68")
    assert last(one, 0, 60).pressure_dbar == pytest.approx(2900, abs=9)


def test_the_warning_of_the_set_follows_its_pressure() -> None:
    one = made()
    played(one, 0, 2)
    one.command(2 * S, "pressure 55")
    (first, *_) = played(one, 2, 3)
    assert isinstance(first, Report)
    assert (first.kind, first.low_air) == (Kind.EVENT, True)


@pytest.mark.parametrize(("word", "motion"), [("pre-alarm", 3), ("alarm", 4)])
def test_a_motion_warning_is_told_at_once_and_set_back(word: str, motion: int) -> None:
    one = made()
    played(one, 0, 2)
    one.command(2 * S, f"motion {word}")
    (first, *_) = played(one, 2, 3)
    assert isinstance(first, Report)
    assert (first.kind, first.motion) == (Kind.EVENT, motion)
    one.command(4 * S, "motion moving")
    assert last(one, 4, 5).motion is Motion.MOVING


def test_distress_and_coming_out_are_buttons() -> None:
    one = made()
    one.command(0, "distress")
    one.command(0, "coming-out")
    found = last(one, 0, 6)
    assert (found.distress, found.coming_out) == (True, True)
    one.command(7 * S, "distress off")
    assert last(one, 7, 8).distress is False


def test_it_hears_and_answers_as_a_pack() -> None:
    one = made()
    played(one, 0, 1)
    beacon = codec.encode(Beacon(9, 1, 1, 0, False, 0x8F3C12A7), None)
    assert one.hear(S, beacon) == "beacon 0x8f3c12a7 of base 0x9"
    assert one.command(S, "button") == "no order waits for an answer"
    assert one.hear(S, order(one, 3)) == "order 3, evacuate: new"
    assert one.hear(S, order(one, 3)) == "order 3, evacuate: again"
    told = one.hear(S, order(one, 4, boot=6))
    assert told == "order 4, evacuate: refused: an order for another boot of this pack"
    assert one.command(3 * S, "button") == "acknowledged 3"
    answers = {p.answer for p in played(one, 3, 9) if isinstance(p, Receipt)}
    assert answers == {ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED}
    found = last(one, 9, 15)
    assert (found.order_acknowledged, found.beacon_heard) == (3, 0x8F3C12A7)


def test_it_can_press_by_itself() -> None:
    one = made()
    played(one, 0, 1)
    one.command(S, "answers 2")
    one.hear(S, order(one, 3))
    played(one, 1, 2)
    assert one.pack.order_acknowledged == 0
    played(one, 2, 4)
    assert one.pack.order_acknowledged == 3


def test_with_a_key_it_refuses_what_is_open(keyring: Keyring) -> None:
    one = made(keyring.pack_keys(IDENTITY, 1))
    played(one, 0, 1)
    said = one.hear(S, codec.encode(Beacon(9, 1, 1, 0, False, 5), None))
    assert said == "refused: an open frame, and this base asks for keyed ones"


def test_silent_hears_and_deaf_sends() -> None:
    one = made()
    one.command(0, "silent")
    assert played(one, 0, 20) == []
    assert one.hear(20 * S, order(one, 1)) == "order 1, evacuate: new"
    one.command(20 * S, "silent off")
    one.command(20 * S, "deaf")
    assert one.hear(20 * S, order(one, 2)) == ""
    assert last(one, 20, 30).order_received == 1


def test_off_dead_on_and_reboot() -> None:
    one = made()
    played(one, 0, 2)
    one.command(2 * S, "off")
    assert [p.kind for p in played(one, 2, 5) if isinstance(p, Report)] == [Kind.SIGN_OFF] * 5
    assert one.command(6 * S, "on") == "boot 8"
    assert one.command(6 * S, "on") == "it is on"
    (first, *_) = played(one, 6, 7)
    assert isinstance(first, Report)
    assert (first.kind, first.boot, first.sequence) == (Kind.SIGN_ON, 8, 1)
    one.command(8 * S, "dead")
    assert played(one, 8, 30) == []
    assert one.command(30 * S, "reboot") == "boot 9"


def test_to_quit_is_to_sign_off_first() -> None:
    one = made()
    played(one, 0, 2)
    one.command(2 * S, "quit")
    assert not one.over
    played(one, 2, 5)
    assert one.over


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("pressur 5", 'no such word: "pressur"'),
        ("pressure", "say one value"),
        ("pressure x", 'no number: "x"'),
        ("pressure nan", "nan is not within 0 to 450 bar"),
        ("pressure 451", "451 is not within 0 to 450 bar"),
        ("interval 0", "0 is not within 1 to 60 s"),
        ("motion dancing", '"dancing" is none of: moving, still, pre-alarm, alarm'),
        ("distress maybe", '"maybe" is none of: on, off'),
        ("button now", "nothing goes with this word"),
        ("test self", "say which and how"),
        ("test gauge passed", '"gauge" is none of: self, air, motion'),
        ("x" * (LINE_LETTERS_MAX + 1), "a line has at most 200 letters"),
    ],
)
def test_a_wrong_line_is_one_sentence_and_changes_nothing(line: str, says: str) -> None:
    one = made()
    before = one.told()
    with pytest.raises(WrongLine, match=re.escape(says)) as wrong:
        one.command(0, line)
    assert "\n" not in str(wrong.value)
    assert one.told() == before


def test_empty_lines_and_remarks_do_nothing() -> None:
    one = made()
    assert one.command(0, "") == one.command(0, "  # so") == ""


def test_help_names_every_word() -> None:
    lines = made().command(0, "help").splitlines()
    assert [line.split()[0] for line in lines] == list(COMMANDS)
    assert max(map(len, lines)) <= 100
