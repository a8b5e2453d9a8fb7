"""What the machine runs on, as Linux tells it: looked at now and then, never on the loop.

The kernel's page on it (Documentation/ABI/testing/sysfs-class-power): a folder for each supply in
``/sys/class/power_supply``, in it ``type``, ``scope`` (``Device``: of a mouse or the like),
``present``, ``status`` and ``capacity`` of a battery, ``online`` of a mains supply. Another system,
or a machine without a battery, has none: then nothing is told and nothing warned of.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from monitor.incident.base_power import BasePower
from monitor.recorder.aside import Aside

SUPPLIES = Path("/sys/class/power_supply")
SUPPLIES_MAX = 32
"""Supplies looked at; a laptop has two or three."""
TEXT_MAX = 64
"""Characters read of a file there."""
LOOK_NS = 30_000_000_000
"""Between two looks: a percent lasts for about a minute or longer."""
_BATTERIES = frozenset({"Battery", "UPS"})
_FED = frozenset({"Charging", "Full", "Not charging"})
"""What a battery says that something feeds."""
_ABSENT = "0"
_ON = "1"


def look(supplies: Path) -> BasePower | None:
    """What the machine runs on; None: it has no battery, or does not tell."""
    try:
        folders = sorted(supplies.iterdir())[:SUPPLIES_MAX]
    except OSError:
        return None
    charges, says, mains = list[int | None](), set[str](), False
    for folder in folders:
        kind = _text(folder / "type")
        if _text(folder / "scope") == "Device":
            continue
        if kind in _BATTERIES and _text(folder / "present") != _ABSENT:
            charges.append(_percent(folder))
            says.add(_text(folder / "status"))
        elif kind not in _BATTERIES:
            mains = mains or _text(folder / "online") == _ON
    if not charges:
        return None
    known = [charge for charge in charges if charge is not None]
    percent = sum(known) // len(known) if known else None
    # A supply that is too weak is online, and the battery goes down all the same.
    drains = "Discharging" in says or (says.isdisjoint(_FED) and not mains)
    return BasePower(state="battery" if drains else "mains", percent=percent)


def _text(path: Path) -> str:
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            return file.read(TEXT_MAX).strip()
    except OSError:
        return ""


def _percent(folder: Path) -> int | None:
    text = _text(folder / "capacity")
    return min(int(text), 100) if text.isdecimal() and len(text) < TEXT_MAX else None


class PowerWatch:
    """Looks in a thread of its own, and tells what has changed. On mains no percent is news."""

    def __init__(self, supplies: Path = SUPPLIES) -> None:
        """Nothing is looked at yet."""
        self._supplies = supplies
        self._aside = Aside("power")
        self._looked_ns: int | None = None
        self._told: BasePower | None = None

    def due(self, now_ns: int, tell: Callable[[BasePower], None]) -> bool:
        """Have it looked at if it is time. ``tell`` is called from that thread."""
        if self._looked_ns is not None and now_ns - self._looked_ns < LOOK_NS:
            return False
        self._looked_ns = now_ns
        self._aside.do(partial(self.look, tell))
        return True

    def end(self, within_s: float) -> None:
        """Look no more."""
        self._aside.end(within_s)

    def look(self, tell: Callable[[BasePower], None]) -> None:
        """Look now, in the thread that calls."""
        now = look(self._supplies)
        if now is None or now == self._told:
            return
        on_mains = now.state == "mains"
        if on_mains and (self._told is None or self._told.state == "mains"):
            return  # all is well, and was
        self._told = now
        tell(now)
