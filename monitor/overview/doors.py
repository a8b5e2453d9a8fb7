"""One door as command sees it: its picture, how old that is, and whether it is to be trusted. Pure.

The picture is the door's own, from its own fold, at the horizon that has come. How old that is goes
by the wall clocks of both machines; where they differ by more than a little, by when it came.
"""

from dataclasses import dataclass, replace
from enum import Enum, StrEnum, auto

from monitor.incident.picture import NextMark, Picture, WearerView

OLD_NS = 3_000_000_000
"""Beyond it a picture is called old: a link that is well brings four a second."""
NOT_HEARD_NS = 10_000_000_000
"""Beyond it a door is not heard: a relay takes less to find its link broken and make another."""
CLOCKS_NS = 5_000_000_000
"""Wall clocks further apart than this are said to differ, and no age is reckoned from them."""


class Trust(StrEnum):
    """What speaks for what is shown of a door."""

    HERE = "here"
    """A journal of this machine."""
    PROVED = "proved"
    """Its running digest is made with a key that the mirror has."""
    OPEN = "open"
    """Right as it came, and made without a key: whoever could write to the broker could make it."""
    UNPROVED = "no key"
    """Made with a key that the mirror has not."""
    REFUSED = "DISTRUST"
    """Something came that does not fit what is known of it."""


class Hearing(Enum):
    """How far a door is heard."""

    NOW = auto()
    OLD = auto()
    NOT_HEARD = auto()
    CLOSED = auto()
    """The incident has ended: nothing more is to come."""


@dataclass(frozen=True, slots=True)
class Door:
    """All that is known of a door."""

    number: int
    """By which it is opened; it never changes."""
    picture: Picture
    """At the newest horizon that has come."""
    age_ns: int
    """How old that is."""
    trust: Trust
    fault: str = ""
    """Why it is not to be trusted, or cannot be read."""
    clock_ns: int = 0
    """So far its wall clock is behind this machine's; negative: ahead. 0 where they agree."""
    falling: tuple[WearerView, ...] | None = None
    """Of a picture that is old: its wearers, with their air as estimated now."""

    @property
    def name(self) -> str:
        """What it is called: its entry point, else its incident."""
        return self.picture.entry_point or self.picture.name

    @property
    def hearing(self) -> Hearing:
        """How far it is heard."""
        if self.picture.closed:
            return Hearing.CLOSED
        if self.age_ns > NOT_HEARD_NS:
            return Hearing.NOT_HEARD
        return Hearing.OLD if self.age_ns > OLD_NS else Hearing.NOW

    @property
    def wearers(self) -> tuple[WearerView, ...]:
        """Who is on its board, with falling estimates where the picture is old."""
        return self.picture.wearers if self.falling is None else self.falling

    @property
    def shown(self) -> Picture:
        """Its picture with these wearers."""
        return replace(self.picture, wearers=self.wearers)


def age_of(moved_ago_ns: int, behind_now_ns: int, clock_ns: int) -> int:
    """How old a picture is.

    ``moved_ago_ns``: since it came, by this machine's boot clock. ``behind_now_ns``: this wall
    clock less the one of the picture. ``clock_ns``: how far that clock is known to be behind.
    """
    return max(moved_ago_ns, behind_now_ns - clock_ns)


def difference_of(least_behind_ns: int) -> int:
    """How far clocks differ, from the least that a picture ever was behind as it came.

    A picture takes some time to come, so a little is no difference; what is left is one, or a link
    that is never quicker: both are said.
    """
    return least_behind_ns if abs(least_behind_ns) > CLOCKS_NS else 0


def least_air(door: Door) -> WearerView | None:
    """Who under air has least; one whose air is unknown goes before any figure."""
    under_air = [w for w in door.wearers if w.under_air]
    unknown = [w for w in under_air if w.air.pressure_bar is None]
    return next(iter(unknown or sorted(under_air, key=lambda w: w.air.pressure_bar or 0.0)), None)


def next_mark(door: Door) -> NextMark | None:
    """What the air of any of them comes to first; None: nothing tells."""
    marks = [w.air.next for w in door.wearers if w.under_air and w.air.next is not None]
    return min(marks, key=lambda mark: mark.seconds, default=None)
