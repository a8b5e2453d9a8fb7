"""Doors as they are watched: a follower each, and what its age is reckoned from.

Reading and folding go on in threads of the followers; nothing here waits for a disk. A mirror may
have to go back with a replica (its door lost its newest rows); then that door is folded anew.
"""

import copy
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from monitor.clock import Clock
from monitor.errors import BadJournal
from monitor.follower import Follower
from monitor.incident.air.detail import AirDetail
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture, WearerView
from monitor.journal.schema import HORIZON_BEFORE_ALL
from monitor.live_follower import LiveFollower
from monitor.mirror.beside import Beside, read
from monitor.overview.doors import (
    OLD_NS,
    Door,
    Trust,
    age_of,
    difference_of,
)

DOORS_MAX = 40
"""On one board; each has a thread that reads."""
MOVES_MIN = 3
"""A door's clock is believed to differ only once its horizon was seen to move so often."""
ENDING = ".journal"
ASIDE = ".before-"
"""In the name of what a mirror kept aside."""
_TRUST = {"keyed": Trust.PROVED, "open": Trust.OPEN, "unproved": Trust.UNPROVED}


class Watched:
    """One door's journal."""

    def __init__(self, path: Path, clock: Clock) -> None:
        """Open. Raises BadJournal as ``Follower`` does."""
        self.number = 0
        """By which it is opened; 0: nothing of it has been read yet."""
        self.path = path
        self._clock = clock
        self._follower = LiveFollower(Follower(path, checkpoints=True), clock)
        self._beside: Beside | None = None
        self._cut_back = 0
        self._fault = ""
        self._horizon = HORIZON_BEFORE_ALL
        self._moved_ns = clock.boot_ns()
        self._moves = 0
        self._least_behind_ns: int | None = None
        self._picture: Picture | None = None
        self._stale = False
        """The picture is of an older horizon."""
        self._fallen: tuple[int, Incident] | None = None
        """From which horizon estimates fall, and a copy of the incident that goes on."""

    def close(self) -> None:
        """Let go of it."""
        self._follower.close()

    def poll(self) -> bool:
        """Read what is new, a bounded amount; say whether there was anything."""
        self._look_beside()
        try:
            moved = self._follower.poll()
        except BadJournal as error:
            self._fault = str(error)
            return False
        if self._follower.catching_up:
            return moved
        self._fault = ""
        if self._follower.horizon != self._horizon:
            self._horizon = self._follower.horizon
            self._moved_ns = self._clock.boot_ns()
            self._moves += 1
            self._stale = True
        return moved

    def urgent(self) -> bool:
        """Whether something was announced there since this was last asked."""
        return bool(self._follower.incident.take_announcements())

    def _renew(self) -> None:
        """Make the picture of the newest horizon, if there is another than before."""
        if not self._stale:
            return
        self._stale = False
        self._picture = self._follower.picture()
        moved_ago_ns = self._clock.boot_ns() - self._moved_ns
        behind_ns = self._clock.wall_ns() - self._picture.wall_ns - moved_ago_ns
        before_ns = self._least_behind_ns
        self._least_behind_ns = behind_ns if before_ns is None else min(before_ns, behind_ns)

    def _look_beside(self) -> None:
        try:
            self._beside = read(self.path)
        except (ValueError, OSError):
            return  # the mirror is writing it, or it is no more: what was known stands
        cut_back = self._beside.cut_back if self._beside is not None else 0
        if cut_back != self._cut_back:
            self._cut_back = cut_back
            self._follower.close()
            self._follower = LiveFollower(Follower(self.path), self._clock)

    @property
    def complete(self) -> bool:
        """All that there was has been read."""
        return self._horizon > HORIZON_BEFORE_ALL or bool(self._fault)

    def door(self) -> Door | None:
        """The door as it is now; None: nothing of it has been read yet."""
        self._renew()
        picture = self._picture
        if picture is None:
            return None
        # One that does not move is old, whatever its clock.
        moves = self._moves > MOVES_MIN
        clock_ns = difference_of(self._least_behind_ns or 0) if moves else 0
        moved_ago_ns = self._clock.boot_ns() - self._moved_ns
        age_ns = age_of(moved_ago_ns, self._clock.wall_ns() - picture.wall_ns, clock_ns)
        beside = self._beside
        trust = Trust.HERE if beside is None else _TRUST[beside.proof]
        fault = self._fault or (beside.fault if beside is not None else "")
        if fault:
            trust = Trust.REFUSED
        falling = self._falling(picture, age_ns) if age_ns > OLD_NS and not picture.closed else None
        return Door(self.number, picture, age_ns, trust, fault, clock_ns, falling)

    def air_detail(self, wearer: int) -> AirDetail | None:
        """All of one wearer's air at the newest horizon; None while it is read, or unknown."""
        if self._follower.catching_up:
            return None
        return self._follower.incident.air_detail(wearer)

    def _falling(self, picture: Picture, age_ns: int) -> tuple[WearerView, ...]:
        """Its wearers with their air as it would be by now had nobody told anything since."""
        if self._fallen is None or self._fallen[0] != self._horizon:
            self._fallen = self._horizon, copy.deepcopy(self._follower.incident)
        incident = self._fallen[1]
        incident.advance(self._horizon + age_ns)
        later = {wearer.wearer: wearer.air for wearer in incident.picture().wearers}
        return tuple(
            replace(wearer, air=later.get(wearer.wearer, wearer.air)) for wearer in picture.wearers
        )


class Doors:
    """Every door that is watched, each with a number that stays."""

    def __init__(self, clock: Clock, named: Iterable[Path], folder: Path | None) -> None:
        """Watch the journals ``named``, and whatever replicas there are or come in ``folder``."""
        self._clock = clock
        self._named = list(named)
        self._folder = folder
        self._watched: dict[Path, Watched] = {}
        self.look()

    def look(self) -> None:
        """Look for doors that are new. What cannot be opened yet is looked at again next time."""
        found = [*self._named, *self._replicas()]
        for path in found:
            if path in self._watched or len(self._watched) >= DOORS_MAX:
                continue
            try:
                self._watched[path] = Watched(path, self._clock)
            except BadJournal:
                if path in self._named:
                    raise

    def _replicas(self) -> list[Path]:
        if self._folder is None or not self._folder.is_dir():
            return []
        paths = self._folder.rglob(f"*{ENDING}")
        return sorted(path for path in paths if ASIDE not in path.name)

    def poll(self) -> bool:
        """Read a bounded amount of each; say whether there was anything."""
        moved = [one.poll() for one in self._watched.values()]
        return any(moved)

    def urgent(self) -> bool:
        """Whether something was announced at any of them since this was last asked."""
        said = [one.urgent() for one in self._watched.values()]
        return any(said)

    @property
    def complete(self) -> bool:
        """Everything that there was of each has been read."""
        return all(one.complete for one in self._watched.values())

    def doors(self) -> list[Door]:
        """All that anything is known of, by number; those that are new by their entry points."""
        found = [(one, door) for one in self._watched.values() if (door := one.door()) is not None]
        new = [(door.name, at) for at, (one, door) in enumerate(found) if not one.number]
        last = max((one.number for one, _ in found), default=0)
        for number, (_, at) in enumerate(sorted(new), last + 1):
            found[at][0].number = number
        doors = [replace(door, number=one.number) for one, door in found]
        return sorted(doors, key=lambda door: door.number)

    def watched(self, number: int) -> Watched | None:
        """The one of that number."""
        return next((one for one in self._watched.values() if one.number == number), None)

    def close(self) -> None:
        """Let go of all."""
        for one in self._watched.values():
            one.close()
