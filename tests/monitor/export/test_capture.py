"""The capture, byte by byte by the specification, and as another library reads it."""

from io import BytesIO
from struct import unpack
from typing import Any

import pcapng
import pytest
from pcapng import blocks

from monitor.export.capture import CaptureWriter

pytestmark = pytest.mark.filterwarnings("ignore:Field type should not be:DeprecationWarning")
"""The library complains of its own tables."""
WALL_NS = 1_700_000_000_123_456_789
FRAMES = (b"\x01", b"\x01\x02\x03\x04", bytes(46))


@pytest.fixture
def captured() -> bytes:
    """Two interfaces; three frames, one with a comment that is not ASCII."""
    file = BytesIO()
    writer = CaptureWriter(file, "outby 9", "EXERCISE, Kiln Lane")
    first, second = writer.interface("link 1", "udp 41900"), writer.interface("link 2", "")
    writer.packet(first, WALL_NS, FRAMES[0])
    writer.packet(second, WALL_NS + 1, FRAMES[1], "held up: 3 s, 25 °C")
    writer.packet(first, WALL_NS + 2**32, FRAMES[2])
    return file.getvalue()


def read(data: bytes) -> list[Any]:
    return list(pcapng.FileScanner(BytesIO(data)))


def test_the_first_block_byte_by_byte() -> None:
    """Type, length, magic, version 1.0, section length unknown, comment, application, end.

    Length: 8 + 16 + (4 + 4) + (4 + 8) + 4 + 4 = 52 = 0x34.
    """
    file = BytesIO()
    CaptureWriter(file, "outby 9", "abc")
    assert file.getvalue().hex(" ") == (
        "0a 0d 0d 0a 34 00 00 00 4d 3c 2b 1a 01 00 00 00 ff ff ff ff ff ff ff ff "
        "01 00 03 00 61 62 63 00 "
        "04 00 07 00 6f 75 74 62 79 20 39 00 "
        "00 00 00 00 34 00 00 00"
    )


def test_every_block_is_as_long_as_it_says_twice(captured: bytes) -> None:
    at, kinds = 0, []
    while at < len(captured):
        kind, length = unpack("<II", captured[at : at + 8])
        assert length % 4 == 0
        assert captured[at + length - 4 : at + length] == captured[at + 4 : at + 8]
        kinds.append(kind)
        at += length
    assert kinds == [0x0A0D0D0A, 1, 1, 6, 6, 6]
    assert at == len(captured)


def test_another_library_reads_what_was_written(captured: bytes) -> None:
    section, one, two, *packets = read(captured)
    assert isinstance(section, blocks.SectionHeader)
    assert section.options["opt_comment"] == "EXERCISE, Kiln Lane"
    assert section.options["shb_userappl"] == "outby 9"
    assert [i.link_type for i in (one, two)] == [147, 147]
    assert one.options["if_name"] == "link 1"
    assert one.options["if_description"] == "udp 41900"
    assert two.options["if_name"] == "link 2"
    assert "if_description" not in two.options
    assert [i.timestamp_resolution for i in (one, two)] == [1e-9, 1e-9]
    assert [p.packet_data for p in packets] == list(FRAMES)
    assert [p.captured_len for p in packets] == [1, 4, 46]
    assert [p.interface_id for p in packets] == [0, 1, 0]
    stamps = [p.timestamp_high << 32 | p.timestamp_low for p in packets]
    assert stamps == [WALL_NS, WALL_NS + 1, WALL_NS + 2**32]
    assert packets[1].options["opt_comment"] == "held up: 3 s, 25 °C"
    assert "opt_comment" not in packets[0].options


def test_a_frame_is_marked_as_received(captured: bytes) -> None:
    """Bits 0 and 1 of the flags: 01 inbound."""
    packet = read(captured)[3]
    assert packet.options.get_raw("epb_flags") == b"\x01\x00\x00\x00"


def test_a_comment_too_long_is_cut_between_two_characters() -> None:
    """65,535 bytes at most; 33,000 characters of two bytes are 66,000."""
    file = BytesIO()
    writer = CaptureWriter(file, "", "ø" * 33_000)
    writer.packet(writer.interface("link 1", ""), 0, b"\x01")
    section = read(file.getvalue())[0]
    assert section.options["opt_comment"] == "ø" * 32_767


def test_an_interface_comes_before_its_frames() -> None:
    with pytest.raises(AssertionError, match="described before"):
        CaptureWriter(BytesIO(), "", "").packet(0, 0, b"\x01")
