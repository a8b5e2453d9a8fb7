"""State of what several share: who stands by, packs in one alarm, alarms that tell of several."""

from typing import NamedTuple

from monitor.incident.alarms.engine import Key
from monitor.incident.alarms.entry import Kind


class Staffing:
    """How many are in and how many stand by, kept up crew by crew."""

    def __init__(self) -> None:
        self.inside = 0
        self.ready = 0
        self.short_ns: int | None = None
        """Since when too few stand by; None: enough, or nobody is in."""
        self._crews: dict[str | int, tuple[int, int]] = {}

    def note(self, crew: str | int, inside: int, ready: int) -> None:
        """Count a crew anew, by its name, or a wearer without one by number."""
        inside_before, ready_before = self._crews.get(crew, (0, 0))
        self.inside += inside - inside_before
        self.ready += ready - ready_before
        self._crews[crew] = inside, ready


class Together:
    """Packs that share one alarm."""

    __slots__ = ("last_ns", "names_over", "packs", "quiet_ns", "ring_ns", "wearers")

    def __init__(self, quiet_ns: int) -> None:
        self.packs: dict[int, int] = {}
        """By pack the wearer it is joined to; 0 for nobody."""
        self.wearers: dict[int, int] = {}
        """Those who are on the board, and since when the same is said of each."""
        self.names_over = ""
        """Who the last were, once nobody is left and the alarm still stands."""
        self.ring_ns: int | None = None
        """When it is to wait anew, for something that came too soon after it last did."""
        self.last_ns, self.quiet_ns = 0, quiet_ns
        """Of calls for help: the last of them, and how long it must be quiet till they are over."""


class Share(NamedTuple):
    """What one member has in an alarm of several, and since when."""

    wearers: tuple[int, ...]
    held: bool
    """Suppressed by design for this one."""
    since_ns: int


class Shared:
    """Alarms that tell of several: crews, or the mates of one."""

    __slots__ = ("all_new", "groups", "low_told", "nobody", "of_crew", "silence_taken")

    def __init__(self) -> None:
        self.groups: dict[Key, dict[Key, Share]] = {}
        """By alarm its members, each by the key that it would have alone."""
        self.all_new: dict[Key, int] = {}
        """Those that were taken for others than are in them now, and when they are asked anew."""
        self.of_crew: dict[Key, Key] = {}
        """The alarm of a crew that a member of it is in."""
        self.silence_taken: dict[int, tuple[Kind, str]] = {}
        """Of whom who is silent the officer has taken that: in an alarm of what kind, and who."""
        self.low_told: dict[Key, int] = {}
        """Of how many in an alarm of silence it was told that their air is low."""
        self.nobody = False
        """Of the group that stands it was told that nobody is left who is heard."""
