"""The raw frames as a pcapng file, which Wireshark and its like read.

Written by the specification of the format, draft-ietf-opsawg-pcapng: a section header, one
interface block a link, one enhanced packet block a frame, in little-endian order::

    block   u32 type | u32 length of the block | body, padded to 32 bits | u32 length again
    option  u16 code | u16 length | value, padded to 32 bits; the last has code 0 and length 0

The link type is USER0, private use: a frame is written as it was heard, and nothing is made up
around it. A frame from a serial line never had an IP header, and one from UDP is journalled
without it, so an invented one would be false evidence. The dissector that comes with the packet
format takes this link type by itself.
"""

from struct import Struct, pack
from typing import IO

LINKTYPE_USER0 = 147
SECTION, INTERFACE, PACKET = 0x0A0D0D0A, 1, 6
BYTE_ORDER = 0x1A2B3C4D
VERSION = (1, 0)
LENGTH_UNKNOWN = -1
END, COMMENT = 0, 1
SECTION_APPLICATION = 4
INTERFACE_NAME, INTERFACE_DESCRIPTION, INTERFACE_RESOLUTION = 2, 3, 9
NANOSECONDS = 9
"""Time stamps count 10 to the minus 9 seconds."""
PACKET_FLAGS = 2
INBOUND = 1
WORD_BYTES = 4
U32_MASK = 0xFFFF_FFFF
OPTION_BYTES_MAX = 0xFFFF

_SECTION = Struct("<IHHq")
_INTERFACE = Struct("<HHI")
_PACKET = Struct("<IIIII")
_FLAGS = pack("<HHI", PACKET_FLAGS, WORD_BYTES, INBOUND)
_END = pack("<HH", END, 0)
_PLAIN_OPTIONS = _FLAGS + _END


class CaptureWriter:
    """Writes one section into a file that is open for writing, block after block."""

    def __init__(self, file: IO[bytes], application: str, comment: str) -> None:
        """Begin the section; ``comment`` is what a person reads of the whole capture."""
        self._write = file.write
        self._interfaces = 0
        options = _option(COMMENT, comment) + _option(SECTION_APPLICATION, application) + _END
        header = _SECTION.pack(BYTE_ORDER, *VERSION, LENGTH_UNKNOWN)
        self._block(SECTION, header + options)

    def interface(self, name: str, description: str) -> int:
        """Describe one more interface and give its number, from 0."""
        options = _option(INTERFACE_NAME, name) + _option(INTERFACE_DESCRIPTION, description)
        resolution = pack("<HHBxxx", INTERFACE_RESOLUTION, 1, NANOSECONDS)
        self._block(INTERFACE, _INTERFACE.pack(LINKTYPE_USER0, 0, 0) + options + resolution + _END)
        self._interfaces += 1
        return self._interfaces - 1

    def packet(self, interface: int, wall_ns: int, frame: bytes, comment: str = "") -> None:
        """Add a frame as it was heard, read at ``wall_ns`` (UTC since 1970)."""
        assert interface < self._interfaces, "an interface is described before it is used"
        size = len(frame)
        head = _PACKET.pack(interface, wall_ns >> 32, wall_ns & U32_MASK, size, size)
        options = _option(COMMENT, comment) + _PLAIN_OPTIONS if comment else _PLAIN_OPTIONS
        self._block(PACKET, head + _padded(frame) + options)

    def _block(self, kind: int, body: bytes) -> None:
        length = len(body) + 3 * WORD_BYTES
        self._write(pack("<II", kind, length) + body + pack("<I", length))


def _padded(data: bytes) -> bytes:
    return data + bytes(-len(data) % WORD_BYTES)


def _option(code: int, text: str) -> bytes:
    """An option of text; nothing where the text is empty."""
    if not text:
        return b""
    data = text.encode()[:OPTION_BYTES_MAX].decode("utf-8", "ignore").encode()
    return pack("<HH", code, len(data)) + _padded(data)
