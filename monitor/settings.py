"""Settings: defaults, then files, then the environment, then options; the later one wins.

The files are ``settings.toml`` in the platform's configuration folder for all users, then in the
user's own; where ``OUTBY_SETTINGS`` names one, that one alone. Every field may also come from
``OUTBY_`` and its name in capitals; lists of links then have commas. A key or variable that is not
a field is an error that names it: a setting that is silently not read is worse than none. A value
that cannot be is the same fault wherever it is said.
"""

import difflib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, Self

import platformdirs
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from monitor.data_files import unreadable
from monitor.errors import BadFile, BadUsage
from monitor.incident.event_parts import one_line
from monitor.sound.tones import CYCLES_MAX
from shared import reading
from shared.printable import shortened
from shared.reading import NotThere, Unreadable

FILE_BYTES_MAX = 100_000
"""A settings file has a dozen lines; anything longer is the wrong file."""
LINKS_MAX = 8
"""More base radios than one board is ever given."""
ENVIRONMENT_PREFIX = "OUTBY_"
FILE_NAME = "settings.toml"
VALUE_SHOWN_MAX = 60
"""Characters of a wrong value in its message."""
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
    operation: Title = ""
    """Joins the incidents of several entry points; empty: this one stands alone."""
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
    broker: Line = ""
    """Of ``outby relay`` and ``outby mirror``: ``tls://HOST[:PORT]``; empty: none."""
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
        fields = type(self).model_fields
        said = {k: v for k, v in options.items() if v is not None and k in fields}
        return self.over(Layer(OPTIONS, said))

    def over(self, layer: "Layer") -> Self:
        """Put what a layer says over these settings. Raises BadUsage: key, value, form wanted."""
        try:
            return type(self).model_validate(self.model_dump() | dict(layer.values))
        except ValidationError as error:
            raise _first(error, layer) from None


class Layer(NamedTuple):
    """What one place says of settings."""

    place: str
    """A file, or one of the next two."""
    values: Mapping[str, object]

    def shown(self, key: str) -> str:
        """Give the key as it is written there, with the place if that is a file."""
        if self.place == OPTIONS:
            return f"--{key.replace('_', '-')}"
        if self.place == ENVIRONMENT:
            return ENVIRONMENT_PREFIX + key.upper()
        return f"{self.place}: {key}"


DEFAULT = "default"
ENVIRONMENT = "environment"
OPTIONS = "options"


def file_paths(environ: Mapping[str, str]) -> tuple[Path, ...]:
    """Where settings files are looked for, the one that wins last.

    The platform's for all users, then the user's own; or the one that the environment names alone.
    """
    if named := environ.get(FILE_VARIABLE):
        return (reading.home(named),)
    for_all = platformdirs.site_config_path("outby", appauthor=False)
    own = platformdirs.user_config_path("outby", appauthor=False)
    return (for_all / FILE_NAME, own / FILE_NAME)


def layers(environ: Mapping[str, str]) -> list[Layer]:
    """Read what files and environment say, the last wins. Raises BadFile.

    A missing file is no error unless the environment names it.
    """
    found = [
        Layer(str(path), values)
        for path in file_paths(environ)
        if (values := _read(path, must_exist=FILE_VARIABLE in environ))
    ]
    return [*found, Layer(ENVIRONMENT, _from_environment(environ))]


def load(environ: Mapping[str, str]) -> Settings:
    """Read files and environment. Raises BadFile where one cannot be read, BadUsage for a value."""
    settings = Settings()
    for layer in layers(environ):
        settings = settings.over(layer)
    return settings


def places(said: Sequence[Layer]) -> dict[str, str]:
    """Say of each setting which place it comes from."""
    found = dict.fromkeys(Settings.model_fields, DEFAULT)
    for layer in said:
        found |= dict.fromkeys(layer.values, layer.place)
    return found


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


def _first(error: ValidationError, layer: Layer) -> BadUsage:
    """Turn the first fault found into one line: what is wrong, at which key, what to do."""
    fault = error.errors()[0]
    key = str(fault["loc"][0]) if fault["loc"] else "?"
    if fault["type"] == "extra_forbidden":
        near = difflib.get_close_matches(key, Settings.model_fields, 1)
        return BadUsage("unknown setting", layer.shown(key), _to_do(layer, near))
    if fault["type"] == "too_long":
        most, count = fault["ctx"]["max_length"], fault["ctx"]["actual_length"]
        what = f"at most {most} links, {count} are said"
    elif fault["type"] in _OTHER_FORM:
        value = layer.values.get(key)
        what = f"{_as_written(value)} is not {form(key, in_a_list=layer.place != ENVIRONMENT)}"
    else:
        said = fault["msg"].removeprefix("Value error, ")
        what = said[:1].lower() + said[1:]
    return BadUsage(what, layer.shown(key), _to_do(layer))


_OTHER_FORM = frozenset({
    "literal_error", "bool_parsing", "bool_type", "int_parsing", "int_type", "int_from_float",
    "string_type", "tuple_type", "greater_than_equal", "less_than_equal",
})  # fmt: skip
"""Faults of pydantic that are told by the form that is wanted, in words of ours."""


def form(key: str, *, in_a_list: bool = True) -> str:
    """Say what a setting takes, from the model itself; ``in_a_list``: written as in a file."""
    schema = Settings.model_json_schema()["properties"][key]
    match schema:
        case {"enum": words}:
            return " or ".join(repr(word) for word in words if word)
        case {"type": "boolean"}:
            return "true or false"
        case {"type": "integer", "minimum": least, "maximum": most}:
            return f"a whole number from {least} to {most}"
        case {"type": "array"}:
            return 'a list, as ["udp:41900"]' if in_a_list else "links with commas between"
        case _:
            return "a text in quotes"


def _as_written(value: object) -> str:
    return shortened(json.dumps(value, ensure_ascii=False, default=str), VALUE_SHOWN_MAX)


def _to_do(layer: Layer, near: Sequence[str] = ()) -> str:
    if near:
        return f"did you mean {layer._replace(place=OPTIONS).shown(near[0])[2:]}?"
    if layer.place == OPTIONS:
        return "see --help"
    return "correct or " + (
        "unset that variable" if layer.place == ENVIRONMENT else "remove that line"
    )
