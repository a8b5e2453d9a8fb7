"""Frames on a serial line: COBS with 0x00 between frames.

COBS (Cheshire and Baker, IEEE/ACM Transactions on Networking 7, 1999) takes every zero out of a
frame for one byte of overhead, so a zero is always an end. After any noise the next zero is true
again: at most the one frame that the noise has run into is lost.
"""

from cobs import cobs

from protocol.fields import FRAME_BYTES_MAX
from protocol.rejects import Reject

DELIMITER = b"\x00"
WIRE_BYTES_MAX = FRAME_BYTES_MAX + 1
"""The longest frame on the line, without its delimiter."""


def wrap(frame: bytes) -> bytes:
    """The bytes that go on the line for ``frame``: two more than it has."""
    assert 0 < len(frame) <= FRAME_BYTES_MAX, "a frame has 1 to 254 bytes"
    coded: bytes = cobs.encode(frame)
    return coded + DELIMITER


class Splitter:
    """Finds frames in the bytes of one line, whatever the pieces they come in.

    Work is linear in the bytes fed and memory is bounded: an overlong run is dropped as it comes,
    up to the next delimiter, and told once.
    """

    __slots__ = ("_dropping", "_held")

    def __init__(self) -> None:
        self._held = bytearray()
        self._dropping = False

    def feed(self, data: bytes) -> list[bytes | Reject]:
        """The frames (framing undone) and rejects that ``data`` completes, in order."""
        first, *rest = data.split(DELIMITER)
        found: list[bytes | Reject] = []
        self._keep(first, found)
        for piece in rest:
            self._end(found)
            self._keep(piece, found)
        return found

    def _keep(self, piece: bytes, found: list[bytes | Reject]) -> None:
        if self._dropping:
            return
        if len(self._held) + len(piece) > WIRE_BYTES_MAX:
            found.append(Reject.LONG)
            self._held.clear()
            self._dropping = True
            return
        self._held += piece

    def _end(self, found: list[bytes | Reject]) -> None:
        if self._held:
            found.append(_undo(bytes(self._held)))
            self._held.clear()
        self._dropping = False


def _undo(piece: bytes) -> bytes | Reject:
    try:
        frame: bytes = cobs.decode(piece)
    except cobs.DecodeError:
        return Reject.FRAMING
    return frame
