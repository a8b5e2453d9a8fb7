from dataclasses import replace
from random import Random

import pytest

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import (
    Beacon,
    Envelope,
    Kind,
    Order,
    Receipt,
    ReceiptKind,
    Report,
)
from protocol.rejects import Reject
from simulators.conformance.rules import RULES
from simulators.conformance.trial import SWITCH_OFF, Trial
from tests.simulators.conformance.conftest import BOOT, IDENTITY, Change, S, Try, resealed

ALL = set(RULES)
TAGGED = {"forged", "forged beacon"}
PLAYED = {0.0: "answers 1", 6: "distress", 16: "quit"}
"""The wearer answers, presses distress, and the pack is switched off in order."""


# ---------------------------------------------------------------- packs that are right


def test_a_pack_that_keeps_the_format_fails_nothing(tried: Try) -> None:
    found = tried(PLAYED)
    assert found.named("failed") == set()
    assert found.named("not seen") == TAGGED | {"appended", "radio", "sign-on", "late"}


def test_over_a_minute_and_a_half_with_a_key_everything_is_seen(tried: Try) -> None:
    lines = {0.0: "answers 1", 6: "distress", 85: "quit"}
    found = tried(lines, 95, keyed=True)
    assert found.named("passed") == ALL - {"appended", "radio"}
    assert found.prompts == ["press the button that acknowledges an order", SWITCH_OFF]


def test_behind_a_base_radio_too(tried: Try) -> None:
    def wrapped(_t: int, frame: bytes) -> list[bytes]:
        return [codec.encode(Envelope(9, -80, 0, frame), None)]

    found = tried(PLAYED, sent=wrapped)
    assert found.named("failed") == set()
    assert found.rows["radio"].verdict == "passed"


def test_what_nobody_presses_is_not_seen(tried: Try) -> None:
    found = tried({}, 15)
    assert {"button", "event", "copies", "sign-off"} <= found.named("not seen")
    assert found.named("failed") == set()


def test_a_pack_that_begins_a_new_boot_is_still_right(tried: Try) -> None:
    assert tried({0: "answers 1", 3.3: "reboot", 20: "quit"}).named("failed") == set()


def test_a_radio_that_loses_frames_is_no_fault_of_the_pack(tried: Try) -> None:
    count = 0

    def lossy(_t: int, frame: bytes) -> list[bytes]:
        nonlocal count
        count += 1
        return [] if count % 5 == 4 else [frame]

    assert tried(PLAYED, sent=lossy, heard=lossy).named("failed") == set()


# ---------------------------------------------------------------- packs that are wrong


def bits(_t: int, frame: bytes) -> list[bytes]:
    """Sets a bit of the alerts that is sent as 0."""
    if frame[1] == Kind.RECEIPT:
        return [frame]
    return [resealed(frame[:33] + bytes((frame[33] | 0x80,)) + frame[34:])]


def flags(_t: int, frame: bytes) -> list[bytes]:
    return [resealed(frame[:2] + b"\x02" + frame[3:])]


def critical(_t: int, frame: bytes) -> list[bytes]:
    """One frame in ten with a flag that must be understood."""
    odd = frame[15] % 10 == 5
    return [resealed(frame[:2] + b"\x80" + frame[3:]) if odd else frame]


def damaged(_t: int, frame: bytes) -> list[bytes]:
    return [frame[:-1] + bytes((frame[-1] ^ 1,)) if frame[15] == 5 else frame]


def too_full(_t: int, frame: bytes) -> list[bytes]:
    """451 bar, in one frame."""
    return [resealed(frame[:16] + b"\x11\x9e" + frame[18:]) if frame[15] == 5 else frame]


def version_2(_t: int, frame: bytes) -> list[bytes]:
    return [resealed(b"\x02" + frame[1:]) if frame[15] == 5 else frame]


def no_identity(_t: int, frame: bytes) -> list[bytes]:
    return [resealed(frame[:4] + bytes(4) + frame[8:]) if frame[15] == 5 else frame]


def sends_a_beacon(_t: int, frame: bytes) -> list[bytes]:
    more = [codec.encode(Beacon(IDENTITY, 1, 1, 0, False, 5), None)] if frame[15] == 5 else []
    return [frame, *more]


def two_contents(_t: int, frame: bytes) -> list[bytes]:
    other = resealed(frame[:19] + b"\x05" + frame[20:])
    return [frame, other] if frame[1] == Kind.STATUS and frame[15] == 5 else [frame]


def boot_back(_t: int, frame: bytes) -> list[bytes]:
    older = resealed(frame[:8] + bytes((0, 0, 0, BOOT - 1)) + frame[12:])
    return [frame, older] if frame[15] == 5 else [frame]


def fast_clock(t: int, frame: bytes) -> list[bytes]:
    """Uptime goes at 1.2 times the time that it is."""
    packet = codec.decode(frame)
    assert isinstance(packet, Report | Receipt)
    return [codec.encode(replace(packet, uptime_ms=packet.uptime_ms * 6 // 5), None)]


def never_signs_on_again(_t: int, frame: bytes) -> list[bytes]:
    packet = codec.decode(frame)
    if isinstance(packet, Report) and packet.kind is Kind.SIGN_ON and packet.sequence > 1:
        return [codec.encode(replace(packet, kind=Kind.STATUS, equipment=None), None)]
    return [frame]


def begins_without_a_sign_on(_t: int, frame: bytes) -> list[bytes]:
    packet = codec.decode(frame)
    if isinstance(packet, Report) and packet.sequence == 1:
        return [codec.encode(replace(packet, kind=Kind.EVENT, equipment=None), None)]
    return [frame]


def no_events(_t: int, frame: bytes) -> list[bytes]:
    """What changed waits for no event: it is in a status."""
    packet = codec.decode(frame)
    if isinstance(packet, Report) and packet.kind is Kind.EVENT:
        return [codec.encode(replace(packet, kind=Kind.STATUS), None)]
    return [frame]


def forgets_orders(_t: int, frame: bytes) -> list[bytes]:
    packet = codec.decode(frame)
    if isinstance(packet, Report):
        return [codec.encode(replace(packet, order_received=0, order_acknowledged=0), None)]
    return [frame]


def wrong_answer(_t: int, frame: bytes) -> list[bytes]:
    """Acknowledges an order that nobody gave."""
    packet = codec.decode(frame)
    if isinstance(packet, Receipt) and packet.answer is ReceiptKind.ACKNOWLEDGED:
        return [codec.encode(replace(packet, order=7), None)]
    return [frame]


def makers_field(kind: int) -> Change:
    def change(_t: int, frame: bytes) -> list[bytes]:
        packet = codec.decode(frame)
        if isinstance(packet, Report):
            return [codec.encode(replace(packet, extras=((kind, b"x"),)), None)]
        return [frame]

    return change


class NoCopies:
    """Sends everything once."""

    def __init__(self) -> None:
        self.sent: set[bytes] = set()

    def __call__(self, _t: int, frame: bytes) -> list[bytes]:
        if frame in self.sent:
            return []
        self.sent.add(frame)
        return [frame]


class SentAgain:
    """Plays an old frame once more, ten seconds later."""

    def __init__(self) -> None:
        self.kept: tuple[int, bytes] | None = None

    def __call__(self, t: int, frame: bytes) -> list[bytes]:
        if self.kept is None and frame[15] == 4:
            self.kept = (t, frame)
        if self.kept is not None and t - self.kept[0] > 10 * S:
            old, self.kept = self.kept[1], (1 << 62, b"")
            return [frame, old]
        return [frame]


def receipts_twice(_t: int, frame: bytes) -> list[bytes]:
    packet = codec.decode(frame)
    twice = isinstance(packet, Receipt) and packet.answer is ReceiptKind.RECEIVED
    return [frame, frame] if twice else [frame]


@pytest.mark.parametrize(
    ("sent", "failed"),
    [
        (bits, {"bits"}),
        (flags, {"flags"}),
        (critical, {"flags"}),
        (damaged, {"checksum"}),
        (too_full, {"report"}),
        (version_2, {"kind"}),
        (no_identity, {"header"}),
        (sends_a_beacon, {"way"}),
        (two_contents, {"number"}),
        (boot_back, {"boot"}),
        (fast_clock, {"uptime"}),
        (begins_without_a_sign_on, {"first"}),
        (wrong_answer, {"button"}),
        (makers_field(128), set()),
        (makers_field(5), {"appended"}),
        (NoCopies(), {"copies", "sign-off"}),
        (SentAgain(), {"sequence"}),
        # The second comes at once, which is no distance for a copy either.
        (receipts_twice, {"once", "gaps"}),
        # A status too many is not an interval after the one before it.
        (no_events, {"event", "interval"}),
    ],
)
def test_a_pack_that_sends_wrongly_fails_in_exactly_that(
    tried: Try, sent: Change, failed: set[str]
) -> None:
    found = tried(PLAYED, sent=sent)
    assert found.named("failed") == failed
    for name in failed:
        first = found.rows[name].first
        assert first is not None
        assert first.why


def test_a_pack_that_does_not_repeat_the_order_number(tried: Try) -> None:
    assert tried({16: "quit"}, sent=forgets_orders).named("failed") == {"level"}


def test_a_pack_that_signs_on_only_once(tried: Try) -> None:
    found = tried({85: "quit"}, 95, sent=never_signs_on_again)
    assert found.named("failed") == {"sign-on"}


def deaf_to(kind: Kind) -> Change:
    return lambda _t, frame: [] if frame[1] == kind else [frame]


def blind(**changed: int) -> Change:
    """A pack that does not look at a field of an order: as if it were what it should be."""

    def change(_t: int, frame: bytes) -> list[bytes]:
        packet = codec.decode(frame)
        if not isinstance(packet, Order):
            return [frame]
        return [codec.encode(replace(packet, **changed), None)]  # type: ignore[arg-type]

    return change


@pytest.mark.parametrize(
    ("heard", "failed"),
    [
        (deaf_to(Kind.BEACON), {"beacon"}),
        (deaf_to(Kind.ORDER), {"received", "again"}),
        (blind(boot=BOOT), {"other boot"}),
        (blind(identity=IDENTITY), {"other pack"}),
        (blind(sequence=1), {"ahead"}),
    ],
)
def test_a_pack_that_hears_wrongly_fails_in_exactly_that(
    tried: Try, heard: Change, failed: set[str]
) -> None:
    assert tried(PLAYED, heard=heard).named("failed") == failed


def test_a_pack_that_does_not_look_at_tags(tried: Try, keyring: Keyring) -> None:
    def sealed(_t: int, frame: bytes) -> list[bytes]:
        packet = codec.decode(frame)
        assert isinstance(packet, Order | Beacon)
        if isinstance(packet, Order):
            key = keyring.pack_key(packet.identity, 1, up=False)
        else:
            key = keyring.broadcast_key(1)
        return [codec.encode(packet, key)]

    found = tried(PLAYED, keyed=True, heard=sealed)
    assert found.named("failed") == {"forged", "forged beacon"}


def test_a_pack_with_another_key_says_nothing_that_counts(tried: Try) -> None:
    def spoilt(_t: int, frame: bytes) -> list[bytes]:
        body = frame[:-3] + bytes((frame[-3] ^ 1,)) + b"xx"
        return [resealed(body)]

    found = tried({}, 10, keyed=True, sent=spoilt)
    assert found.named("failed") == {"tag"}
    assert found.named("passed") == set()


# ---------------------------------------------------------------- whose frames


def test_other_packs_are_counted_and_left_out(tried: Try) -> None:
    def neighbour(_t: int, frame: bytes) -> list[bytes]:
        return [frame, resealed(frame[:4] + b"\0\0\0\x09" + frame[8:])]

    found = tried(PLAYED, sent=neighbour)
    assert found.trial.others == {9}
    assert found.trial.identity == IDENTITY
    assert found.named("failed") == set()


def test_the_one_that_is_named_is_tried() -> None:
    trial = Trial(None, Random(1), 0, length_ns=S, identity=5)
    assert trial.identity == 5
    assert trial.step(0) == []


def test_noise_on_a_line_is_damage() -> None:
    trial = Trial(None, Random(1), 0, length_ns=S)
    assert not trial.hear(0, Reject.FRAMING)
    failed = [row.name for row in trial.rows(S) if row.verdict == "failed"]
    assert failed == ["checksum"]
