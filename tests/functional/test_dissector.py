"""tshark, with the dissector that comes with the format, reads what the codec reads."""

import json
import os
import shutil
import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from random import Random
from struct import pack
from typing import Any

import pytest

import shared
from monitor.errors import Exit
from monitor.export.capture import CaptureWriter
from monitor.incident.rows import RowKind, Standing
from monitor.journal.reader import JournalReader
from protocol.codec import decode
from protocol.dissector import filter_name
from protocol.fields import FIELDS_BY_KIND, Field
from protocol.integrity import checksum
from protocol.packets import Beacon, Envelope, Kind, Packet, ReceiptKind, Report
from protocol.rejects import Reject
from tests.functional.conftest import Home

FRAMES = 10_000
SEED = 8
SCRIPT = Path(__file__).parents[2] / "protocol" / "outby.lua"
ATTRIBUTES = {
    "pressure": "pressure_dbar", "gas temperature": "gas_temperature_c",
    "battery": "battery_percent", "uptime": "uptime_ms", "beacon heard": "beacon_heard",
    "order received": "order_received", "order acknowledged": "order_acknowledged",
    "interval": "interval_s", "radio clock": "radio_ms", "signal": "signal_dbm",
    "frames heard": "frames_heard",
}  # fmt: skip
"""What the codec calls a field, where it calls it something else."""
EQUIPMENT = {
    "apparatus": "apparatus", "rated pressure": "rated_pressure_dbar",
    "water volume": "water_volume_cl", "low-air value": "low_air_dbar",
}  # fmt: skip
FLAGS = ("keyed", "distress", "low air", "coming out")
TESTS = {
    "self-test": "self_test", "low-air warning test": "air_warning_test",
    "motion warning test": "motion_warning_test",
}  # fmt: skip
NOT_COMPARED = {"version", "flags", "alerts", "checks"}
"""The codec gives their parts."""
NAMES = sorted({f.name for fields in FIELDS_BY_KIND.values() for f in fields} - NOT_COMPARED)
ASKED = (*NAMES, *FLAGS, *TESTS, "extra.type", "extra.value", "reason")
Cells = dict[str, list[str]]
Read = Callable[[Iterable[bytes]], list[Cells]]


def run_tshark(path: Path, asked: Sequence[str]) -> list[list[str]]:
    """The values of these fields in each packet of a capture."""
    if not shutil.which("tshark"):
        pytest.fail("tshark is missing: install it (Debian: apt-get install tshark)")
    fields = [part for name in asked for part in ("-e", name)]
    done = subprocess.run(
        ["tshark", "-X", f"lua_script:{SCRIPT}", "-r", path, "-T", "fields", *fields,
         "-E", "separator=/t", "-E", "occurrence=a", "-E", "aggregator=;"],
        env=os.environ | {"HOME": str(path.parent)},
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    return [line.split("\t") for line in done.stdout.splitlines()]


def by_name(lines: list[list[str]]) -> list[Cells]:
    """The fields in ``ASKED``, each with all its values in a packet."""
    return [
        {n: cell.split(";") if cell else [] for n, cell in zip(ASKED, line, strict=True)}
        for line in lines
    ]


@pytest.fixture
def tshark(tmp_path: Path) -> Read:
    """Write frames into a capture and give the fields of each that tshark reads from it."""

    def read(frames: Iterable[bytes]) -> list[Cells]:
        path = tmp_path / "frames.pcapng"
        with path.open("wb") as file:
            writer = CaptureWriter(file, "outby test", "EXERCISE")
            link = writer.interface("link 1", "udp 41900")
            for number, frame in enumerate(frames):
                writer.packet(link, 1_700_000_000_000_000_000 + number, frame)
        return by_name(run_tshark(path, [filter_name(name) for name in ASKED]))

    return read


def number(text: str) -> int:
    """As tshark writes them: decimal, hex or a truth value, by its version."""
    return int(text == "True") if text in {"True", "False"} else int(text, 0)


# ---------------------------------------------------------------- frames from the field table


def random_frame(rng: Random, kind: Kind) -> bytes:
    """Any frame of this kind that is right, its fields taken from their ranges."""
    fields = FIELDS_BY_KIND[kind]
    keyed = kind not in {Kind.ENVELOPE, Kind.BEAT} and rng.random() < 0.7
    values = {f.name: _value(rng, f) for f in fields} | {"kind": int(kind), "flags": int(keyed)}
    if "epoch" in values:
        values["epoch"] = rng.randint(1, 255) if keyed else 0
    if "checks" in values:
        values["checks"] = rng.randrange(3) | rng.randrange(3) << 2 | rng.randrange(3) << 4
    if kind is Kind.RECEIPT and values["answer"] != ReceiptKind.COMING_OUT:
        values["order"] = max(1, values["order"])
    if kind is Kind.BEAT:
        values["signal"] = -128
    content = pack(">" + "".join(f.code for f in fields), *(values[f.name] for f in fields))
    if kind is Kind.ENVELOPE:
        content += random_frame(rng, rng.choice((Kind.STATUS, Kind.SIGN_ON, Kind.RECEIPT)))
    elif rng.random() < 0.3:
        value = rng.randbytes(rng.randrange(6))
        content += bytes((rng.randint(1, 255), len(value))) + value
    content += rng.randbytes(8) if keyed else b""
    return content + checksum(content)


def _value(rng: Random, field: Field) -> int:
    if field.unknown is not None and rng.random() < 0.2:
        return field.unknown
    return rng.choice((field.low, field.high, rng.randint(field.low, field.high)))


def expected(packet: Packet) -> dict[str, list[int]]:
    """Every field as the codec gives it, back in the numbers of the wire."""
    if isinstance(packet, Envelope):
        inner = decode(packet.frame)
        assert not isinstance(inner, Reject)
        found = expected(inner)
        for name, value in _values(packet, Kind.ENVELOPE).items():
            found.setdefault(name, []).insert(0, value)
        return found
    kind = packet.kind if isinstance(packet, Report) else Kind[type(packet).__name__.upper()]
    return {name: [value] for name, value in _values(packet, kind).items()}


def _values(packet: Any, kind: Kind) -> dict[str, int]:
    found: dict[str, int] = {"kind": int(kind)}
    for field in FIELDS_BY_KIND[kind]:
        if field.name in NOT_COMPARED | {"kind"}:
            continue
        if field.name in EQUIPMENT:
            value = getattr(packet.equipment, EQUIPMENT[field.name])
        elif field.name == "identity" and isinstance(packet, Beacon):
            value = packet.base
        elif field.name == "signal" and kind is Kind.BEAT:
            value = None
        else:
            value = getattr(packet, ATTRIBUTES.get(field.name, field.name))
        found[field.name] = field.unknown if value is None else int(value)  # type: ignore[assignment]
    found["keyed"] = int(getattr(packet, "keyed", False))
    if isinstance(packet, Report):
        found |= {name: int(getattr(packet, name.replace(" ", "_"))) for name in FLAGS[1:]}
        found |= {name: int(getattr(packet, attribute)) for name, attribute in TESTS.items()}
    return found


def shown(cells: Cells) -> dict[str, list[int]]:
    return {
        name: [number(text) for text in texts]
        for name, texts in cells.items()
        if texts and name not in {"extra.type", "extra.value", "reason"}
    }


def test_every_field_of_ten_thousand_frames_is_the_codecs(tshark: Read) -> None:
    rng = Random(SEED)
    frames = [random_frame(rng, rng.choice(list(Kind))) for _ in range(FRAMES)]
    packets = [decode(frame) for frame in frames]
    assert [packet for packet in packets if isinstance(packet, Reject)] == []
    read = tshark(frames)
    assert len(read) == FRAMES
    for frame, packet, cells in zip(frames, packets, read, strict=True):
        assert not isinstance(packet, Reject)
        assert shown(cells) == expected(packet), frame.hex()
        assert cells["reason"] == []
        if isinstance(packet, Report):
            extras = [(int(kind), value) for kind, value in packet.extras]
            kinds = [number(kind) for kind in cells["extra.type"]]
            assert kinds == [kind for kind, _ in extras]
            values = [bytes.fromhex(value.replace(":", "")) for value in cells["extra.value"]]
            assert values == [value for _, value in extras if value]


def test_what_the_codec_refuses_is_refused_for_that_reason(tshark: Read) -> None:
    """Frames with one byte changed and the checksum made anew; shortened; damaged."""
    rng = Random(SEED)
    frames = []
    for _ in range(4_000):
        raw = bytearray(random_frame(rng, rng.choice(list(Kind))))
        way = rng.randrange(4)
        if way == 0:
            raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
        elif way == 1:
            del raw[rng.randrange(len(raw)) :]
        else:
            raw[rng.randrange(len(raw) - 2)] = rng.choice((0, 1, 3, 13, 0xFF, 0x80, 0x10))
            raw[-2:] = checksum(bytes(raw[:-2]))
        frames.append(bytes(raw))
    refused = 0
    for frame, cells in zip(frames, tshark(frames), strict=True):
        packet = decode(frame)
        if isinstance(packet, Reject):
            refused += 1
            assert packet.name in cells["reason"], frame.hex()
        elif not isinstance(packet, Envelope):
            assert cells["reason"] == [], frame.hex()
    assert refused > 1_000


def test_the_vectors_of_the_format(tshark: Read) -> None:
    vectors = json.loads(shared.path("vectors", "packets.json").read_text("utf-8"))
    good = [bytes.fromhex(vector["frame"]) for vector in vectors["good"]]
    for vector, frame, cells in zip(vectors["good"], good, tshark(good), strict=True):
        packet = decode(frame)
        assert not isinstance(packet, Reject)
        if not isinstance(packet, Envelope):
            assert shown(cells) == expected(packet), vector["name"]
            assert cells["reason"] == []


def test_the_golden_journal_as_it_is_exported(home: Home, tmp_path: Path) -> None:
    """Every frame: its bytes taken apart, when it was read, by which link, what it proves."""
    golden = shared.path("journals", "kiln-lane.journal")
    done = home.run("export", str(golden), "--frames", "golden.pcapng")
    assert done.returncode == Exit.OK, done.stderr
    with JournalReader(golden) as reader:
        opened_ns = reader.header().opened_wall_ns
        rows = [row for step in reader.steps(reader.last_batch().last_row) for row in step]
    frames = [row for row in rows if row.kind is RowKind.FRAME]
    asked = ["frame.time_epoch", "frame.interface_name", "frame.comment", "frame.len"]
    lines = run_tshark(tmp_path / "golden.pcapng", [*asked, *map(filter_name, ASKED)])
    assert len(lines) == len(frames) > 500
    cells = by_name([line[len(asked) :] for line in lines])
    for row, line, read in zip(frames, lines, cells, strict=True):
        packet = decode(row.data)
        assert not isinstance(packet, Reject)
        assert shown(read) == expected(packet)
        seconds, _, fraction = line[0].partition(".")
        read_ns = int(seconds) * 1_000_000_000 + int(fraction.ljust(9, "0"))
        assert read_ns == opened_ns + row.t - row.late_ns
        assert (line[1], int(line[3])) == ("link 1", len(row.data))
        assert line[2].startswith("not proven live") is (row.standing is Standing.NOT_PROVEN)
