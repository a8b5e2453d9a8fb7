"""PACKET-FORMAT.md says what the code does: its tables, its examples, its figures."""

import json
import re
from typing import Any

import pytest

from protocol import codec, delays, fields, framing, freshness
from protocol.fields import FIELDS_BY_KIND, Field
from protocol.freshness import OrderGate
from protocol.integrity import Keyring, PackKeys, checksum, tag
from protocol.packets import (
    Apparatus,
    CheckResult,
    Kind,
    Motion,
    Order,
    OrderKind,
    ReceiptKind,
    Report,
)
from protocol.rejects import Reject
from tests.protocol import examples_page, second_codec

TYPES = {"B": "u8", "H": "u16", "I": "u32", "b": "i8"}


def section(document: str, heading: str) -> str:
    found = re.search(
        rf"^(#+) {re.escape(heading)}\n(.*?)(?=^#+ |\Z)", document, re.MULTILINE | re.DOTALL
    )
    assert found, heading
    return found[2]


def rows(text: str) -> list[list[str]]:
    """All table rows of a text, heads and rules left out."""
    cells = [
        [cell.strip() for cell in line.strip().strip("|").split("|")]
        for line in text.splitlines()
        if line.startswith("|")
    ]
    heads = {number - 1 for number, row in enumerate(cells) if set(row[0]) == {"-"}}
    return [row for number, row in enumerate(cells) if number not in heads and set(row[0]) != {"-"}]


def as_row(field: Field) -> list[str]:
    """A field as the document's tables have it, but for its meaning."""
    span = f"{field.low} to {field.high}"
    if field.name in {"flags", "alerts", "checks"}:
        span = "see below"
    elif field.name == "kind":
        span = "see above"
    elif field.low == field.high:
        span = str(field.low)
    unknown = ""
    if field.unknown is not None:
        unknown = str(field.unknown) if field.code == "b" else f"0x{field.unknown:X}"
    reason = field.reject.name if field.reject is not None else ""
    kind = TYPES[field.code]
    return [str(field.offset), kind, field.name, field.unit, span, unknown, reason]


@pytest.mark.parametrize(
    ("heading", "table"),
    [
        ("Header", fields.HEADER),
        ("Report", fields.REPORT),
        ("Equipment", fields.EQUIPMENT),
        ("Receipt", fields.RECEIPT),
        ("Beacon", fields.BEACON),
        ("Order", fields.ORDER),
        ("Base radio", fields.LOCAL + fields.BEAT),
    ],
)
def test_tables_of_fields(document: str, heading: str, table: tuple[Field, ...]) -> None:
    assert [row[:7] for row in rows(section(document, heading))] == [as_row(f) for f in table]


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("motion", Motion),
        ("apparatus", Apparatus),
        ("answer", ReceiptKind),
        ("what", OrderKind),
    ],
)
def test_numbers_with_names(document: str, name: str, numbers: Any) -> None:
    row = next(row for row in rows(document) if len(row) == 8 and row[2] == name)
    said = [part.split("(")[0].strip().partition(" ") for part in row[7].split(",")]
    want = [(str(int(n)), n.name.lower().replace("_", " ")) for n in numbers]
    assert [(number, words.replace("-", " ")) for number, _, words in said] == [
        (number, words) for number, words in want
    ]


def test_check_results_have_the_numbers_in_the_text(document: str) -> None:
    text = " ".join(section(document, "Report").split())
    assert "0 not run since this boot, 1 passed, 2 failed" in text
    assert [(r.name, int(r)) for r in CheckResult] == [("NOT_RUN", 0), ("PASSED", 1), ("FAILED", 2)]


def test_table_of_kinds(document: str) -> None:
    table = {row[0]: row for row in rows(section(document, "A frame"))}
    assert len(table) == len(Kind)
    for kind in Kind:
        row = table[kind.name.lower().replace("_", "-")]
        assert int(row[1]) == kind
        if kind is Kind.ENVELOPE:
            assert row[4] == row[5] == f"{fields.ENVELOPE_BYTES} more"
            continue
        size = FIELDS_BY_KIND[kind][-1].offset + FIELDS_BY_KIND[kind][-1].size + 2
        tag = 0 if kind is Kind.BEAT else 8
        assert [int(row[4]), int(row[5])] == [size, size + tag]


def test_table_of_reasons(document: str) -> None:
    assert rows(section(document, "Reasons")) == [[str(int(r)), r.name, r.words] for r in Reject]


def test_every_reason_named_in_the_text_exists(document: str) -> None:
    named = set(re.findall(r"\b[A-Z]+(?:_[A-Z]+)+\b", document))
    assert named <= {reason.name for reason in Reject}


def test_worked_examples_byte_by_byte(document: str, vectors: dict[str, Any]) -> None:
    by_name = {vector["name"]: vector for vector in vectors["good"]}
    names = re.findall(r"^### Example: (.*)$", document, re.MULTILINE)
    assert len(names) == 8
    assert {by_name[name]["kind"] for name in names} >= {"status", "order", "beacon", "envelope"}
    for name in names:
        text = section(document, f"Example: {name}")
        frame, end = b"", 0
        for row in rows(text):
            assert int(row[0]) == end, name
            frame += bytes.fromhex(row[1].strip("`"))
            end = len(frame)
        line = bytes.fromhex(re.findall(r"```\n(.*?)```", text, re.DOTALL)[0])
        assert frame.hex() == by_name[name]["frame"]
        assert line == framing.wrap(frame)
        assert f"{len(line)} bytes" in text


def test_fields_and_values_of_the_examples(document: str) -> None:
    for name in re.findall(r"^### Example: (.*)$", document, re.MULTILINE):
        listed = rows(section(document, f"Example: {name}"))
        kind = Kind(int(listed[1][1].strip("`"), 16))
        for field, row in zip(FIELDS_BY_KIND[kind], listed, strict=False):
            assert row[2] == field.name
            raw = bytes.fromhex(row[1].strip("`"))
            value = int.from_bytes(raw, "big", signed=field.code == "b")
            assert value == (field.unknown if row[3] == "unknown" else int(row[3], 0))


def test_the_examples_are_those_that_the_code_makes(document: str) -> None:
    assert examples_page.written(document) == document


DOWNWARD = (
    "SHORT", "LONG", "CHECKSUM", "VERSION", "KIND", "DIRECTION", "FLAGS", "LONG", "EPOCH", "LENGTH",
    "OTHER_PACK", "NOT_KEYED", "KEYED_UNREADABLE", "EPOCH_UNKNOWN", "TAG", "each its own",
    "ORDER_BOOT", "ORDER_AHEAD", "ORDER_TOO_OLD", "ORDER_LATE", "ORDER_PASSED",
)  # fmt: skip
"""The reasons of the page's table, in its order."""


def spoilt_from(step: int, down: bytes) -> bytes:
    """An order in which that check and all that come after it fail."""
    names = DOWNWARD[step:]
    body = bytearray(
        b"\x01\x09\x01\x01" + second_codec.PACK.to_bytes(4, "big")
        + (7).to_bytes(4, "big") + (100).to_bytes(4, "big") + bytes.fromhex("b0000001 0005 01")
    )  # fmt: skip
    body[22] = 7 if "each its own" in names else 1
    body[11] ^= "ORDER_BOOT" in names
    # Above the last sent, so that it is neither too far back nor too old by then.
    body[15] = 101 if "ORDER_AHEAD" in names else 36 if "ORDER_TOO_OLD" in names else 37
    if "ORDER_AHEAD" not in names and "ORDER_TOO_OLD" not in names and "ORDER_LATE" not in names:
        body[15] = 100
    body[21] = 4
    body[3] = 2 if "EPOCH_UNKNOWN" in names else 1
    body[7] ^= "OTHER_PACK" in names
    body = body[:22] if "LENGTH" in names else body
    body[3] = 0 if "EPOCH" in names else body[3]
    body += bytes(225) if names.count("LONG") == 1 and step <= DOWNWARD.index("LONG", 2) else b""
    body[2] |= 0x80 if "FLAGS" in names else 0
    body[1] = 2 if "DIRECTION" in names else 9
    body[1] = 10 if "KIND" in names else body[1]
    body[0] = 2 if "VERSION" in names else 1
    frame = bytes(body) + tag(down, bytes(body))
    if "TAG" in names:
        frame = frame[:-1] + bytes((frame[-1] ^ 1,))
    if "NOT_KEYED" in names:
        frame = bytes(body[:2]) + bytes((body[2] & 0xFE, 0)) + bytes(body[4:])
        frame = frame[:3] + b"\x01" + frame[4:] if "EPOCH" in names else frame
    frame += checksum(frame)
    if "CHECKSUM" in names:
        frame = frame[:-1] + bytes((frame[-1] ^ 1,))
    if names.count("LONG") == 2:
        return frame[:14] if "SHORT" in names else frame + bytes(255 - len(frame))
    return frame


@pytest.mark.parametrize(
    "step", [n for n, name in enumerate(DOWNWARD) if name != "KEYED_UNREADABLE"]
)
def test_a_pack_checks_in_the_order_of_the_page(step: int, pack_keys: PackKeys) -> None:
    gate = OrderGate(7)
    for sequence in range(1, 101):
        gate.sent(sequence, 0 if sequence == 37 else 70 * 10**9)
    gate.highest = 5
    got: Any = codec.receive_down(spoilt_from(step, pack_keys.down), second_codec.PACK, pack_keys)
    if isinstance(got, Order):
        got = gate.take(got, 70 * 10**9)
    want = "ORDER_KIND" if DOWNWARD[step] == "each its own" else DOWNWARD[step]
    assert got.name == want


def test_the_table_of_those_checks(document: str, pack_keys: PackKeys) -> None:
    listed = [row[1] for row in rows(section(document, "Orders")) if len(row) == 2]
    assert tuple(", ".join(listed).split(", ")) == DOWNWARD
    order = Order(second_codec.PACK, 7, 300, 1, True, 9, 3, OrderKind.TEST)
    keyed = codec.encode(order, pack_keys.down)
    assert codec.receive_down(keyed, second_codec.PACK, None) is Reject.KEYED_UNREADABLE


def test_keys_of_the_examples(document: str, keyring: Keyring) -> None:
    keys = keyring.pack_keys(second_codec.PACK, 1)
    table = {row[0]: row[2].strip("`") for row in rows(section(document, "Worked examples"))}
    assert table == {"up": keys.up.hex(), "down": keys.down.hex(), "beacons": keys.broadcast.hex()}


def test_airtime_table(document: str) -> None:
    # 58 bytes at 50 kbit/s; delivery under pure ALOHA is (1 - 2 tau / P)^(N - 1).
    tau = (fields.STATUS_BYTES_MAX + 10) * 8 / 50_000
    assert tau == pytest.approx(9.28e-3)
    for row in rows(section(document, "Airtime")):
        packs = int(row[0])
        want = []
        for period in (1, 5, 10):
            delivery = (1 - 2 * tau / period) ** (packs - 1)
            share = packs * tau / period
            want += [f"{packs // period}", f"{share:.1%}".replace("%", " %"), f"{delivery:.2f}"]
        assert row[1:] == want
    assert "| 50 | 50 | 46.4 % | 0.40 | 10 | 9.3 % | 0.83 |" in document


def test_figures_of_the_text(document: str) -> None:
    text = " ".join(document.split())
    ns = 1_000_000_000
    assert freshness.WINDOW_WIDTH == 64
    assert "a window of 64 sequence numbers" in text
    assert freshness.COPIES_REMEMBERED == 8
    assert "one of the last 8 sequence numbers" in text
    assert 5 * ns == freshness.BEACON_INTERVAL_NS
    assert "Every 5 s the base sends a beacon" in text
    assert freshness.BEACON_RECENT_NS == freshness.ORDER_AGE_NS == 60 * ns
    assert 10 * ns == delays.HELD_LIMIT_NS
    assert "more than 10 s late" in text
    assert delays.DRIFT_PPM == 500
    assert "500 parts in a million" in text
    assert freshness.GAP_MAX == 10_000
    assert "more than 10,000 numbers" in text
    assert f"shortest frame has {fields.FRAME_BYTES_MIN} bytes" in text
    assert f"longest {fields.FRAME_BYTES_MAX}" in text
    assert f"at most {fields.PACK_FRAME_BYTES_MAX}, so that" in text
    # A recording of an hour at 5 s, each frame with its own old beacon, 12 of 2^32 recent.
    assert 3600 // 5 == 720
    assert round(720 * 12 / 2**32 * 1e6, 1) == 2.0
    assert "with 2 in a million" in text
    # 115,200 baud in 8N1 carry 11,520 bytes a second.
    assert 11_520 // 48 == 240
    assert "takes 48 on the line, 240 frames a second" in text


def test_the_vectors_are_those_of_the_second_codec() -> None:
    assert json.loads(second_codec.VECTORS.read_text("utf-8")) == json.loads(
        json.dumps(second_codec.vectors())
    )


# ---------------------------------------------------------------- the seven threats of EN 50159


THREATS = [
    "repetition", "deletion", "insertion", "re-sequencing", "corruption", "delay", "masquerade",
]  # fmt: skip


def test_each_of_the_seven_threats_has_its_line(document: str) -> None:
    assert [row[0] for row in rows(section(document, "Threats"))] == THREATS
    assert "### What is not defended" in document


def accepted(frame: bytes, keyring: Keyring) -> Report:
    got = codec.receive(frame, keyring)
    assert isinstance(got, Report)
    return got


class Attack:
    """A genuine pack, what it sends, and a base that hears it."""

    def __init__(self, keyring: Keyring, status: Report) -> None:
        self.keyring = keyring
        self.key = keyring.pack_key(status.identity, 1, up=True)
        self.status = status
        self.fresh = freshness.PackFreshness()
        self.account = freshness.SequenceAccount()
        self.gauge = delays.DelayGauge()

    def frame(self, sequence: int, uptime_ms: int = 0) -> bytes:
        self.status.sequence, self.status.uptime_ms = sequence, uptime_ms
        return codec.encode(self.status, self.key)

    def hear(self, frame: bytes) -> freshness.Fresh | Reject:
        got = codec.receive(frame, self.keyring)
        if isinstance(got, Reject):
            return got
        assert isinstance(got, Report)
        verdict = self.fresh.take(got.boot, got.sequence, frame)
        if verdict is freshness.Fresh.NEW:
            self.account.take(got.boot, got.sequence)
        return verdict


@pytest.fixture
def attack(keyring: Keyring, status: Report) -> Attack:
    return Attack(keyring, status)


def test_repetition_updates_once(attack: Attack) -> None:
    first = attack.frame(1)
    assert attack.hear(first) is freshness.Fresh.NEW
    assert attack.hear(first) is Reject.COPY
    for sequence in range(2, 12):
        attack.hear(attack.frame(sequence))
    assert attack.hear(first) is Reject.REPEATED
    assert (attack.account.taken, attack.account.lost) == (11, 0)


def test_deletion_is_counted(attack: Attack) -> None:
    for sequence in (1, 2, 4):
        attack.hear(attack.frame(sequence))
    assert attack.account.lost == 1


def test_insertion_of_a_foreign_pack_is_refused(attack: Attack) -> None:
    attack.status.identity += 1
    assert attack.hear(attack.frame(1)) is Reject.TAG


def test_resequencing_does_not_make_the_older_one_present(attack: Attack) -> None:
    first, second = attack.frame(1, 1000), attack.frame(2, 6000)
    assert attack.hear(second) is freshness.Fresh.NEW
    assert attack.hear(first) is freshness.Fresh.NEW
    assert attack.fresh.highest == 2
    # By its uptime the one that came last is the older state.
    assert accepted(first, attack.keyring).uptime_ms < accepted(second, attack.keyring).uptime_ms


def test_delay_is_found(attack: Attack) -> None:
    assert attack.gauge.take(7, 1_000, 1_000_000_000) == 0
    age = attack.gauge.take(7, 6_000, 17_000_000_000)
    assert delays.DelayGauge.held(age)


def test_masquerade_is_refused_and_moves_nothing(attack: Attack) -> None:
    attack.hear(attack.frame(1))
    attack.key = bytes(32)
    assert attack.hear(attack.frame(10**9)) is Reject.TAG
    assert attack.fresh.highest == 1
