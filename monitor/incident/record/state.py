"""What is kept of areas, reliefs, defects and cylinders, and who has the board."""

from dataclasses import dataclass, field
from typing import Any

AREAS_MAX = 500
"""Areas noted; further ones are in the journal only."""
DEFECTS_MAX = 500
TO_FILL_MAX = 1_000


@dataclass(frozen=True, slots=True)
class Area:
    """How far an area was searched, as last told."""

    state: str
    wearers: tuple[int, ...]
    t: int
    by: str


@dataclass(frozen=True, slots=True)
class Relief:
    """A crew that is to be relieved."""

    by_crew: str
    due_ns: int
    come: bool = False
    """Its time has come, and was looked at."""


@dataclass(frozen=True, slots=True)
class Defect:
    """Why a set is not to be used."""

    text: str
    t: int
    by: str
    pack: int | None
    """Of the set, as far as somebody on the board had it then."""


@dataclass(frozen=True, slots=True)
class ToFill:
    """A cylinder that was used."""

    bar: float | None
    """The last reading before it came off air; None: nobody knows."""
    wearer: int


@dataclass(frozen=True, slots=True)
class UndoView:
    """For a display: the newest step that whoever noted it can take back."""

    of: str
    """Id of its act."""
    by: str
    what: str
    """Name of its act."""
    wearers: tuple[int, ...]
    ago_ns: int


@dataclass(slots=True)
class Record:
    """Everything that is kept beside air and alarms. By name, in the order of noting."""

    use: str
    """``exercise`` or ``real``."""
    officer: str
    stage: str
    paused: bool = False
    """An exercise whose time stands still."""
    areas: dict[str, Area] = field(default_factory=dict)
    reliefs: dict[str, Relief] = field(default_factory=dict)
    """By the crew to be relieved."""
    defects: dict[str, Defect] = field(default_factory=dict)
    """By set."""
    to_fill: dict[str, ToFill] = field(default_factory=dict)
    """By cylinder."""
    steps: dict[str, Any] = field(default_factory=dict)
    """Steps that can be taken back, by id of their act: ``undoing.Taken``."""
    last_step: dict[int, str] = field(default_factory=dict)
    """By wearer: the step noted last, while nothing stands on it."""
