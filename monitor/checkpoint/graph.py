"""A graph of objects as plain JSON, and back: what is shared stays shared, a cycle a cycle. Pure.

The text is ``{"shapes": [[class, field, ...], ...], "objects": [...], "root": value}``. A *value*
is a JSON scalar, which stands for itself, or ``[n]``: object number n. An *object* is a list that
begins with its kind:

    ["o", shape, value, ...]      an instance: its fields, in the order of the shape
    ["n", class, value, ...]      a named tuple
    ["e", class, name]            a member of an enumeration
    ["m", class, text]            a frozen pydantic model, as the JSON that it gives of itself
    ["l", value, ...]  ["t", value, ...]  ["f", value, ...]      list, tuple, frozen set
    ["s", value, ...]             set
    ["d", key, value, ...]        dictionary, in its order
    ["q", longest, value, ...]    deque
    ["a", type, hex]              array: the lowest byte of every number, then the next of every
                                  one, and so on, which packs well
    ["b", hex]                    bytes

Whole numbers have as many digits as they need; fractions are written so that they come back bit for
bit. What cannot change is written once, after all that it is made of, and is made first. So one
state has one text.

Nothing is run because a text says so. Classes come from a table that the caller hands in; instances
are made without their own ``__init__`` and filled field by field; names of fields are the class's
own. A text that breaks any rule is ``BadGraph``.
"""

import json
from array import array
from collections import deque
from collections.abc import Callable, Mapping
from enum import Enum
from functools import lru_cache
from typing import Any

from pydantic import BaseModel

OBJECTS_MAX = 1_000_000
"""Ten times what five hundred packs need after a day."""
ARRAY_TYPES = frozenset("bBhHiIlLqQ")
SCALARS = frozenset({int, float, str, bool, type(None)})
CLASSES_KNOWN = 1_000

_Entry = list[Any]


class BadGraph(ValueError):
    """Not what ``encode`` writes; or, when writing, an object that has no place in a checkpoint."""


def encode(root: object, classes: Mapping[str, type]) -> bytes:
    """Write an object and all that it reaches. BadGraph where a class is not in the table."""
    writer = _Writer({found: name for name, found in classes.items()})
    try:
        value = writer.value(root)
        shapes = [[name, *fields] for name, fields in writer.shapes]
        whole = {"shapes": shapes, "objects": writer.objects, "root": value}
        return json.dumps(whole, separators=(",", ":"), ensure_ascii=False).encode()
    except BadGraph:
        raise
    except (ValueError, RecursionError) as error:
        raise BadGraph(f"cannot be written: {error}") from error


def decode(text: bytes, classes: Mapping[str, type]) -> Any:
    """Make the objects again. BadGraph whatever is wrong."""
    try:
        whole = json.loads(text)
        return _Reader(whole["shapes"], whole["objects"], classes).made(whole["root"])
    except BadGraph:
        raise
    except (
        *(ValueError, TypeError, LookupError, AttributeError),
        *(OverflowError, RecursionError, AssertionError),
    ) as error:
        raise BadGraph(f"not a graph: {error!r}") from error


@lru_cache(maxsize=CLASSES_KNOWN)
def _slots(kind: type) -> tuple[str, ...]:
    """Names of the fields that have a place of their own in instances of this class."""
    names: list[str] = []
    for base in reversed(kind.__mro__):
        own = vars(base).get("__slots__", ())
        names += [own] if isinstance(own, str) else own
    return tuple(name for name in names if not name.startswith("__"))


class _Writer:
    """Numbers each object at its first sight. All objects outlive the writing, so ids hold."""

    def __init__(self, names: Mapping[type, str]) -> None:
        self._names = names
        self._numbers: dict[int, int] = {}
        self._equal: dict[str, int] = {}
        """What cannot change, by what it is: whether it is one object or two, nobody can tell."""
        self._shapes: dict[tuple[str, tuple[str, ...]], int] = {}
        self.objects: list[_Entry] = []

    @property
    def shapes(self) -> list[tuple[str, tuple[str, ...]]]:
        return list(self._shapes)

    def value(self, what: object) -> object:
        """Give what stands for an object where it is mentioned."""
        kind = what.__class__
        if kind in SCALARS:
            return what
        number = self._numbers.get(id(what))
        return [self._add(what, kind) if number is None else number]

    def _add(self, what: Any, kind: type) -> int:
        fill = _FILLED.get(kind)
        if fill is None and not issubclass(kind, tuple | Enum | BaseModel | frozenset | bytes):
            fill = _Writer._instance
        if fill is not None:
            number = self._next(what, [])
            self.objects[number] += fill(self, what)
            return number
        entry = self._unchanging(what, kind)
        same = repr(entry)
        found = self._equal.get(same)
        if found is None:
            found = self._equal[same] = self._next(what, entry)
        self._numbers[id(what)] = found
        return found

    def _next(self, what: object, entry: _Entry) -> int:
        number = self._numbers[id(what)] = len(self.objects)
        if number >= OBJECTS_MAX:
            raise BadGraph(f"more than {OBJECTS_MAX} objects")
        self.objects.append(entry)
        return number

    def _values(self, every: Any) -> _Entry:
        # Most have nothing but scalars in them.
        return [one if one.__class__ in SCALARS else self.value(one) for one in every]

    def _name(self, kind: type) -> str:
        name = self._names.get(kind)
        if name is None:
            raise BadGraph(f"{kind.__module__}.{kind.__qualname__} has no place in a checkpoint")
        return name

    def _unchanging(self, what: Any, kind: type) -> _Entry:
        if kind is tuple:
            return ["t", *self._values(what)]
        if kind is bytes:
            return ["b", what.hex()]
        if kind is frozenset:
            return ["f", *sorted(self._values(what), key=repr)]
        name = self._name(kind)
        if issubclass(kind, Enum):
            return ["e", name, what.name]
        if issubclass(kind, BaseModel):
            return ["m", name, what.model_dump_json()]
        return ["n", name, *self._values(what)]

    def _instance(self, what: Any) -> _Entry:
        kind = what.__class__
        name = self._name(kind)
        named = {field: getattr(what, field) for field in _slots(kind) if hasattr(what, field)}
        named |= getattr(what, "__dict__", {})
        shape = self._shapes.setdefault((name, tuple(named)), len(self._shapes))
        return ["o", shape, *self._values(named.values())]

    def _list(self, what: list[Any]) -> _Entry:
        return ["l", *self._values(what)]

    def _set(self, what: set[Any]) -> _Entry:
        return ["s", *sorted(self._values(what), key=repr)]

    def _dict(self, what: dict[Any, Any]) -> _Entry:
        return ["d", *self._values(one for pair in what.items() for one in pair)]

    def _deque(self, what: deque[Any]) -> _Entry:
        return ["q", what.maxlen, *self._values(what)]

    def _array(self, what: "array[Any]") -> _Entry:
        if what.typecode not in ARRAY_TYPES:
            raise BadGraph(f"an array of {what.typecode}")
        raw, size = what.tobytes(), what.itemsize
        return ["a", what.typecode, b"".join(raw[place::size] for place in range(size)).hex()]


_FILLED: dict[type, Callable[[_Writer, Any], _Entry]] = {
    list: _Writer._list,  # noqa: SLF001 - a table of this module's own class
    set: _Writer._set,  # noqa: SLF001
    dict: _Writer._dict,  # noqa: SLF001
    deque: _Writer._deque,  # noqa: SLF001
    array: _Writer._array,  # noqa: SLF001
}
"""What can change, and so can lead back to itself."""

_NOT_MADE = object()


class _Reader:
    """Makes empty shells first, then what cannot change, then fills the shells."""

    def __init__(
        self, shapes: list[_Entry], objects: list[_Entry], classes: Mapping[str, type]
    ) -> None:
        if len(objects) > OBJECTS_MAX:
            raise BadGraph(f"more than {OBJECTS_MAX} objects")
        self._classes = classes
        self._shapes = [self._shape(name, fields) for name, *fields in shapes]
        self._made: list[Any] = [self._shell(entry) for entry in objects]
        for number, entry in enumerate(objects):
            if entry[0] in _UNCHANGING:
                self._made[number] = self._unchanging(entry)
        # Instances come before what may have them as keys.
        for number, entry in enumerate(objects):
            if entry[0] == "o":
                self._fill_instance(self._made[number], entry)
        for number, entry in enumerate(objects):
            if entry[0] in "lsdq":
                self._fill(self._made[number], entry)

    def made(self, value: Any) -> Any:
        """Give the object that a value stands for."""
        if value.__class__ is not list:
            if value.__class__ not in SCALARS:
                raise BadGraph("not a value")
            return value
        (number,) = value
        if number < 0 or (found := self._made[number]) is _NOT_MADE:
            raise BadGraph(f"object {number} is not there yet")
        return found

    def _values(self, entry: _Entry, start: int) -> list[Any]:
        return [one if one.__class__ in SCALARS else self.made(one) for one in entry[start:]]

    def _shape(self, name: str, fields: list[str]) -> tuple[Any, list[str]]:
        kind: Any = self._classes[name]
        if issubclass(kind, tuple | Enum | BaseModel):
            raise BadGraph(f"{name} is not filled field by field")
        own = _slots(kind)
        free = kind.__dictoffset__ != 0
        for field in fields:
            if field not in own and not (free and field.isidentifier() and field[:2] != "__"):
                raise BadGraph(f"{name} has no field {field}")
        return kind, fields

    def _shell(self, entry: _Entry) -> Any:
        if entry.__class__ is not list:
            raise BadGraph("not an object")
        match entry[0]:
            case "o":
                kind, _ = self._shapes[entry[1]]
                return kind.__new__(kind)
            case "l":
                return []
            case "s":
                return set()
            case "d":
                return {}
            case "q":
                return deque(maxlen=entry[1])
            case "a" if entry[1] in ARRAY_TYPES:
                return self._array(entry[1], bytes.fromhex(entry[2]))
            case kind if kind in _UNCHANGING:
                return _NOT_MADE
        raise BadGraph(f"no object is a {entry[0]!r}")

    def _array(self, kind: str, places: bytes) -> "array[Any]":
        made = array(kind)
        size = made.itemsize
        raw, count = bytearray(len(places)), len(places) // size
        for place in range(size):
            raw[place::size] = places[place * count : (place + 1) * count]
        made.frombytes(raw)
        return made

    def _unchanging(self, entry: _Entry) -> Any:
        match entry[0]:
            case "t":
                return tuple(self._values(entry, 1))
            case "f":
                return frozenset(self._values(entry, 1))
            case "b":
                return bytes.fromhex(entry[1])
        kind = self._classes[entry[1]]
        if entry[0] == "e" and issubclass(kind, Enum):
            return kind[entry[2]]
        if entry[0] == "m" and issubclass(kind, BaseModel):
            return kind.model_validate_json(entry[2])
        if entry[0] == "n" and issubclass(kind, tuple):
            values = self._values(entry, 2)
            if len(values) == len(kind._fields):  # type: ignore[attr-defined]  # named tuples have
                return tuple.__new__(kind, values)
        raise BadGraph(f"{entry[1]} is not of kind {entry[0]}")

    def _fill_instance(self, shell: Any, entry: _Entry) -> None:
        _, fields = self._shapes[entry[1]]
        for field, value in zip(fields, self._values(entry, 2), strict=True):
            object.__setattr__(shell, field, value)

    def _fill(self, shell: Any, entry: _Entry) -> None:
        kind = entry[0]
        values = self._values(entry, 2 if kind == "q" else 1)
        if kind == "d":
            shell.update(zip(values[::2], values[1::2], strict=True))
        elif kind == "s":
            shell.update(values)
        else:
            shell.extend(values)


_UNCHANGING = frozenset("tfbemn")
