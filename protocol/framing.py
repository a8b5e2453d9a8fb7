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
        """The frames (framing undone) and rejects that ``data`` completes, in order.

        Two delimiters with nothing between them are an idle line, no reject.
        """
        found: list[bytes | Reject] = []
        *ended, last = data.split(DELIMITER)
        if ended:
            ended[0] = b"" if self._dropping else bytes(self._held) + ended[0]
            self._held.clear()
            self._dropping = False
            found += [_undo(piece) for piece in ended if piece]
        if not self._dropping:
            self._hold(last, found)
        return found

    def _hold(self, piece: bytes, found: list[bytes | Reject]) -> None:
        if len(self._held) + len(piece) > WIRE_BYTES_MAX:
            found.append(Reject.LONG)
            self._held.clear()
            self._dropping = True
        else:
            self._held += piece


def _undo(piece: bytes) -> bytes | Reject:
    if len(piece) > WIRE_BYTES_MAX:
        return Reject.LONG
    try:
        frame: bytes = cobs.decode(piece)
    except cobs.DecodeError:
        return Reject.FRAMING
    return frame
