"""Settings: defaults, then a file, then the environment, then options; the later one wins.

The file is ``settings.toml`` in the platform's configuration folder (or where
``OUTBY_SETTINGS`` points). Every field may also come from ``OUTBY_`` and its name in capitals;
lists of links then have commas. A key or variable that is not a field is an error that names
it: a setting that is silently not read is worse than none.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

import platformdirs
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from monitor.data_files import unreadable
from monitor.errors import BadFile, BadUsage, OutbyError
from monitor.incident.event_parts import one_line
from monitor.sound.tones import CYCLES_MAX
from shared import reading
from shared.reading import NotThere, Unreadable

FILE_BYTES_MAX = 100_000
"""A settings file has a dozen lines; anything longer is the wrong file."""
LINKS_MAX = 8
"""More base radios than one board is ever given."""
ENVIRONMENT_PREFIX = "OUTBY_"
FILE_VARIABLE = "OUTBY_SETTINGS"
"""Names the settings file itself, so it is not a field."""


def _no_end(text: str) -> str:
    """No system takes a name with a zero byte; it would be found out in the midst of opening."""
    if "\0" in text:
        raise ValueError("no zero byte")
    return text


Title = Annotated[str, Field(max_length=60), AfterValidator(one_line)]
Words = Annotated[str, Field(max_length=200), AfterValidator(one_line)]
Line = Annotated[str, Field(max_length=200), AfterValidator(_no_end)]
Links = Annotated[tuple[Line, ...], Field(min_length=1, max_length=LINKS_MAX)]
LISTS = frozenset({"links", "real_links", "exercise_links"})
"""Settings that are lists, with commas in the environment."""


class Settings(BaseModel):
    """What is in force. Empty text means "not said": opening an incident asks for it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Title = ""
    """Of the incident."""
    place: Words = ""
    entry_point: Words = ""
    stage: Words = ""
    """Stage or control level, in the words of the procedure."""
    officer: Title = ""
    """Whose board it is; written beside every act."""
    use: Literal["", "exercise", "real"] = ""
    procedure: Line = ""
    """Name of one that comes with the program, or a path."""
    roster: Line = ""
    """Name of one that comes with the program, or a path."""
    cylinders: Line = ""
    """Path of a file of cylinders of one's own; empty: those that come with the program."""
    links: Annotated[tuple[Line, ...], Field(max_length=LINKS_MAX)] = ()
    """Where packs are heard: ``udp:[HOST:]PORT`` or ``serial:DEVICE[@BAUD]``. Empty: as the next
    two say. None that is of the other use."""
    real_links: Links = ("udp:41900",)
    """Where packs are heard at a real incident; no exercise ever opens one of these."""
    exercise_links: Links = ("udp:41901",)
    """Where they are heard in an exercise; no real incident ever opens one of these."""
    key: Line = ""
    """Path of the fleet key file; empty: open mode, shown as such."""
    sound: Annotated[Line, Field(min_length=1)] = "auto"
    """Who sounds alarms: ``auto``, ``bell``, ``off``, or the command of a player."""
    evacuation_tone: Annotated[int, Field(ge=0, le=CYCLES_MAX)] = 0
    """Cycles of the evacuation tone that the base sounds too; 0: none, since many buildings do."""
    theme: Literal["dark", "daylight"] = "dark"
    glyphs: Literal["unicode", "blocks", "ascii"] = "unicode"
    mouse: bool = False
    """Off: a sleeve on the pad must not cost anything."""
    checkpoints: bool = True
    """Whether the state at some instants is kept beside a journal, so that it opens quickly."""
    spill_folder: Line = ""
    """Where rows go while the journal's disk takes none, best another disk; empty: the runtime
    folder or memory, whichever is no part of that disk."""
    incidents_folder: Line = ""
    """Where journals are kept; empty: the platform's data folder."""

    @property
    def incidents_path(self) -> Path:
        """The folder of journals, whether or not it exists yet."""
        if self.incidents_folder:
            return reading.home(self.incidents_folder)
        return platformdirs.user_data_path("outby", appauthor=False) / "incidents"

    @property
    def spill_path(self) -> Path | None:
        """The folder for spills, if one was said."""
        return Path(self.spill_folder).expanduser() if self.spill_folder else None

    def with_options(self, options: Mapping[str, object]) -> Self:
        """Put ``options`` that are not None over these settings.

        Names that are not fields are left alone: they are the command's own. Raises BadUsage.
        """
        said = {k: v for k, v in options.items() if v is not None and k in type(self).model_fields}
        try:
            return type(self).model_validate(self.model_dump() | said)
        except ValidationError as error:
            raise _first(error, BadUsage, "--{}", "see outby --help") from None


def file_path(environ: Mapping[str, str]) -> Path:
    """Where the settings file is looked for."""
    if named := environ.get(FILE_VARIABLE):
        return reading.home(named)
    return platformdirs.user_config_path("outby", appauthor=False) / "settings.toml"


def load(environ: Mapping[str, str]) -> Settings:
    """Read file and environment. Raises BadFile for the one, BadUsage for the other.

    A missing file is no error unless the environment names it.
    """
    path = file_path(environ)
    from_file = _read(path, must_exist=FILE_VARIABLE in environ)
    try:
        settings = Settings.model_validate(from_file)
    except ValidationError as error:
        raise _first(error, BadFile, f"{path}: {{}}", "correct or remove that line") from None
    from_environment = _from_environment(environ)
    try:
        return Settings.model_validate(settings.model_dump() | from_environment)
    except ValidationError as error:
        raise _first(
            error, BadUsage, ENVIRONMENT_PREFIX + "{}", "correct or unset that variable"
        ) from None


def _read(path: Path, *, must_exist: bool) -> dict[str, Any]:
    try:
        return reading.toml_of(reading.text_of(reading.read_bytes(path, FILE_BYTES_MAX)))
    except NotThere:
        if must_exist:
            raise BadFile(
                "settings file not found", str(path), f"correct or unset {FILE_VARIABLE}"
            ) from None
        return {}
    except Unreadable as error:
        raise unreadable("settings file", path, error) from None


def _from_environment(environ: Mapping[str, str]) -> dict[str, object]:
    values: dict[str, object] = {}
    for variable, text in environ.items():
        if not variable.startswith(ENVIRONMENT_PREFIX) or variable == FILE_VARIABLE:
            continue
        field = variable.removeprefix(ENVIRONMENT_PREFIX).lower()
        if field in LISTS:
            values[field] = tuple(part.strip() for part in text.split(",") if part.strip())
        else:
            values[field] = text
    return values


def _first(error: ValidationError, kind: type[OutbyError], where: str, to_do: str) -> OutbyError:
    """Turn the first fault found into one line: the key by name, what is wrong with it."""
    fault = error.errors()[0]
    key = str(fault["loc"][0]) if fault["loc"] else "?"
    if "{}" in where and where.startswith(ENVIRONMENT_PREFIX):
        key = key.upper()
    if where.startswith("--"):
        key = key.replace("_", "-")
    what = "unknown setting" if fault["type"] == "extra_forbidden" else fault["msg"]
    if fault["type"] == "too_long":
        most, count = fault["ctx"]["max_length"], fault["ctx"]["actual_length"]
        what = f"at most {most} links, {count} are said"
    what = what.removeprefix("Value error, ")
    return kind(what[:1].lower() + what[1:], where.format(key), to_do)
