"""Decode and framing, each beside the least that its kind of work can cost in Python."""

import hashlib
import importlib
import struct
from binascii import crc_hqx
from collections.abc import Iterator

from cobs import cobs

from protocol import codec, framing
from tests.benchmarks.frames import RINGS, frames
from tests.benchmarks.measuring import Figure, compare

COUNT = 2_000


def figures() -> Iterator[Figure]:
    """Measure the packet format."""
    yield _receive()
    yield from _telemetry_peer()
    yield _decode_trusted()
    yield _wrap()
    yield _split()


def _receive() -> Figure:
    """Peer: unpack the same bytes, CRC, and a keyed digest built for each frame."""
    made = frames(COUNT)
    layout = struct.Struct(f">{len(made[0]) // 2}H")
    key = bytes(32)

    def ours() -> None:
        for frame in made:
            codec.receive(frame, RINGS)

    def peers() -> None:
        for frame in made:
            layout.unpack(frame)
            crc_hqx(frame[:-2], 0xFFFF)
            hashlib.blake2s(frame[:-10], key=key, digest_size=8).digest()

    what = "decode, CRC, authenticate, ranges: a frame"
    peer = "struct + crc_hqx + new BLAKE2s"
    return compare(what, peer, ours, peers, COUNT, bar=3, goal=1.5)


def _telemetry_peer() -> Iterator[Figure]:
    """Peer: a general-purpose telemetry library's parser, signed messages of 56 bytes.

    Left out where it is not installed. A signed message is taken once, so each run has a parser
    of its own; making it is not measured in either.
    """
    try:
        common = importlib.import_module("pymavlink.dialects.v20.common")
    except ImportError:
        return
    made = frames(COUNT)
    sender = common.MAVLink(None, srcSystem=1, srcComponent=1)
    sender.signing.secret_key = bytes(32)
    sender.signing.sign_outgoing = True
    status = common.MAVLink_sys_status_message(1, 1, 1, 500, 12_000, 100, 80, 0, 0, 1, 2, 3, 4)
    signed = [bytes(status.pack(sender)) for _ in range(COUNT)]

    def ours() -> None:
        for frame in made:
            codec.receive(frame, RINGS)

    def peers() -> None:
        parser = common.MAVLink(None)
        parser.signing.secret_key = bytes(32)
        for message in signed:
            assert parser.parse_buffer(message)

    yield compare(
        "the same by a signed parser: ratio", "pymavlink, signed", ours, peers, COUNT,
        bar=0.25, goal=0.18, of_ratio=True,
    )  # fmt: skip


def _decode_trusted() -> Figure:
    """Peer: unpack alone."""
    made = frames(COUNT)
    layout = struct.Struct(f">{len(made[0]) // 2}H")

    def ours() -> None:
        for frame in made:
            codec.decode_trusted(frame)

    def peers() -> None:
        for frame in made:
            layout.unpack(frame)

    return compare("decode a frame of a journal", "struct unpack alone", ours, peers, COUNT)


def _wrap() -> Figure:
    made = frames(COUNT)

    def ours() -> None:
        for frame in made:
            framing.wrap(frame)

    def peers() -> None:
        for frame in made:
            cobs.encode(frame)

    return compare("frame to serial line", "cobs package alone", ours, peers, COUNT)


def _split() -> Figure:
    """Serial bytes come in pieces of 64; the peer decodes frames that it is handed one by one."""
    made = frames(COUNT)
    coded = [cobs.encode(frame) for frame in made]
    line = b"".join(framing.wrap(frame) for frame in made)
    pieces = [line[start : start + 64] for start in range(0, len(line), 64)]

    def ours() -> None:
        splitter = framing.Splitter()
        for piece in pieces:
            splitter.feed(piece)

    def peers() -> None:
        for piece in coded:
            cobs.decode(piece)

    return compare("serial line to frame", "cobs package alone", ours, peers, COUNT)
