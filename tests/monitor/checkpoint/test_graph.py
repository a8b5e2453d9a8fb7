"""Objects to text and back: shared, in a ring, to the last bit; and no text does any harm."""

import json
import math
from array import array
from collections import deque
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from random import Random
from typing import Any, NamedTuple

import pytest
from pydantic import BaseModel, ConfigDict

from monitor.checkpoint.graph import OBJECTS_MAX, BadGraph, decode, encode


class Colour(Enum):
    RED = 1
    BLUE = 2


class Level(IntEnum):
    LOW = 1


class Pair(NamedTuple):
    left: Any
    right: Any


class Said(BaseModel):
    model_config = ConfigDict(frozen=True)

    words: str
    share: float
    numbers: tuple[int, ...] = ()


@dataclass(slots=True)
class Node:
    name: str
    next: "Node | None" = None
    more: list[Any] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Fixed:
    one: int
    two: tuple[int, ...] = ()


class Loose:
    """Keeps its fields in a dictionary, as most classes do."""

    made = 0

    def __init__(self) -> None:
        Loose.made += 1
        self.own = "own"


CLASSES: dict[str, type] = {
    kind.__name__: kind for kind in (Colour, Level, Pair, Said, Node, Fixed, Loose)
}


def again(what: Any) -> Any:
    text = encode(what, CLASSES)
    made = decode(text, CLASSES)
    assert encode(made, CLASSES) == text, "one state has one text"
    return made


@pytest.mark.parametrize(
    "what",
    [
        None, True, 0, -1, 2**63, -(2**200), "", "kiln \u00e9 \U0001f525 \x00", b"\x00\xff",
        [], {}, (), set(), frozenset({3, 1}), [1, [2, [3]]], {1: "a", "1": "b", (1, 2): None},
        {3, 1, 2}, deque([1, 2], 5), deque([1]), Colour.BLUE, Level.LOW, Pair(1, (2, 3)),
        Said(words="x", share=0.1, numbers=(1, 2)), Fixed(1, (2,)), {Fixed(1): Fixed(2)},
        {Colour.RED: 1, Pair(1, 2): 2}, {Level.LOW: 1}, array("H", [0, 65_535, 3]), array("H"),
        array("Q", [2**64 - 1, 0]), array("b", [-128, 127]),
    ],
)  # fmt: skip
def test_it_is_the_same_and_of_the_same_kinds(what: Any) -> None:
    made = again([what])[0]
    assert made == what
    assert type(made) is type(what)
    assert repr(made) == repr(what)


def test_kinds_that_are_equal_are_kept_apart() -> None:
    made = again([1, 1.0, True, Level.LOW, (1,), (1.0,), (True,), (Level.LOW,)])
    assert [type(one) for one in made[:4]] == [int, float, bool, Level]
    assert [type(one[0]) for one in made[4:]] == [int, float, bool, Level]


def test_fractions_come_back_bit_for_bit() -> None:
    rng = Random(1)
    drawn = [rng.uniform(-1, 1) * 10.0 ** rng.randrange(-300, 300) for _ in range(2_000)]
    odd = [0.0, -0.0, 5e-324, 1.7976931348623157e308, math.inf, -math.inf, 0.1 + 0.2]
    made = again(drawn + odd)
    assert [x.hex() for x in made] == [x.hex() for x in drawn + odd]
    assert math.isnan(again([math.nan])[0])


def test_what_is_shared_stays_shared() -> None:
    one, fixed = Node("one"), Fixed(1)
    a, b, c = again([[one, fixed], {"same": one}, (fixed, one)])
    assert a[0] is b["same"] is c[1]
    assert a[1] is c[0]
    twins = again([Node("x"), Node("x")])
    assert twins[0] is not twins[1]


def test_rings_stay_rings() -> None:
    one, two = Node("one"), Node("two")
    one.next, two.next, one.more = two, one, [one]
    one.more.append((one, one.more))
    made = again(one)
    assert made.next.next is made
    assert made.more[0] is made
    assert made.more[1] == (made, made.more)
    assert made.more[1][1] is made.more
    own: list[Any] = []
    own.append(own)
    assert (made := again(own))[0] is made


def test_order_of_a_dictionary_stays() -> None:
    made = again({"b": 1, "a": 2, 3: 3})
    assert list(made) == ["b", "a", 3]


def test_an_array_is_written_place_by_place() -> None:
    """0x0102 and 0x0304 on a machine that has the lowest byte first: 02 04, then 01 03."""
    first, second = ("0204", "0103") if array("H", [1]).tobytes()[0] else ("0103", "0204")
    (entry,) = json.loads(encode(array("H", [0x0102, 0x0304]), CLASSES))["objects"]
    assert entry == ["a", "H", first + second]


def test_a_deque_goes_on_forgetting() -> None:
    made = again([deque([1, 2], 2)])[0]
    made.append(3)
    assert list(made) == [2, 3]


def test_instances_are_not_asked_to_build_themselves() -> None:
    loose = Loose()
    loose.__dict__["later"] = 5
    before = Loose.made
    made = again(loose)
    assert vars(made) == {"own": "own", "later": 5}
    assert Loose.made == before


def test_a_field_that_was_never_set_is_not_set() -> None:
    made = again(Node.__new__(Node))
    assert not hasattr(made, "name")


@pytest.mark.parametrize("what", [object(), {1: object()}, print, range(3), {}.keys(), 1j])
def test_what_has_no_place_is_said(what: object) -> None:
    with pytest.raises(BadGraph, match="no place in a checkpoint"):
        encode([what], CLASSES)


def test_too_deep_is_said() -> None:
    deep: list[Any] = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(BadGraph, match="cannot be written"):
        encode(deep, CLASSES)


def test_a_text_that_is_none_is_said() -> None:
    with pytest.raises(BadGraph, match="cannot be written"):
        encode(["\ud800"], CLASSES)


def text_of(objects: list[Any], shapes: list[Any] | None = None, root: Any = None) -> bytes:
    whole = {"shapes": shapes or [], "objects": objects, "root": [0] if root is None else root}
    return json.dumps(whole).encode()


@pytest.mark.parametrize(
    ("objects", "shapes"),
    [
        ([["o", 0]], [["os.system"]]),
        ([["o", 0, 1]], [["Node", "nothing"]]),
        ([["o", 0, 1]], [["Loose", "__class__"]]),
        ([["o", 0, 1]], [["Loose", "no name"]]),
        ([["o", 0, "x"]], [["Node", "name", "next"]]),
        ([["o", 0, 1]], [["Colour", "_value_"]]),
        ([["o", 0, 1, 2]], [["Pair", "left", "right"]]),
        ([["o", 5]], []),
        ([["e", "Colour", "GREEN"]], []),
        ([["e", "Pair", "RED"]], []),
        ([["n", "Node", 1]], []),
        ([["n", "Pair", 1]], []),
        ([["m", "Said", "{}"]], []),
        ([["m", "Colour", "{}"]], []),
        ([["l", [1]]], []),
        ([["l", [-1]]], []),
        ([["l", [0, 0]]], []),
        ([["l", ["0"]]], []),
        ([["l", {"a": 1}]], []),
        ([["t", [0]]], []),
        ([["t", [1]], ["t"]], []),
        ([["d", 1]], []),
        ([["d", [0], 1]], []),
        ([["s", [1]], ["l"]], []),
        ([["q", "x"]], []),
        ([["a", "u", "00"]], []),
        ([["a", "d", "0000000000000000"]], []),
        ([["a", "H", "000000"]], []),
        ([["a", "H", 1]], []),
        ([["a", "H"]], []),
        ([["b", "0x"]], []),
        ([["z"]], []),
        ([[]], []),
        (["l"], []),
        (7, []),
        ([["l"]], [7]),
    ],
)
def test_a_text_that_breaks_a_rule_is_refused(objects: Any, shapes: Any) -> None:
    with pytest.raises(BadGraph):
        decode(text_of(objects, shapes), CLASSES)


@pytest.mark.parametrize(
    "text", [b"", b"{}", b"[]", b"7", b"\xff", b'{"objects":[]', b"[" * 99_999]
)
def test_what_is_no_graph_at_all_is_refused(text: bytes) -> None:
    with pytest.raises(BadGraph):
        decode(text, CLASSES)


def test_random_harm_to_a_text_is_refused_or_makes_another_graph() -> None:
    one = Node("one", more=[Pair(1, {2: (3, b"4")}), Said(words="w", share=0.5), array("H", [1])])
    one.next = one
    text, rng = encode(one, CLASSES), Random(5)
    refused = 0
    for _ in range(3_000):
        raw = bytearray(text)
        for _ in range(rng.choice([1, 1, 3])):
            raw[rng.randrange(len(raw))] = rng.randrange(32, 127)
        try:
            decode(bytes(raw), CLASSES)
        except BadGraph:
            refused += 1
    assert refused > 1_000


def test_the_number_of_objects_is_bounded() -> None:
    with pytest.raises(BadGraph, match="more than"):
        decode(text_of([["l"]] * (OBJECTS_MAX + 1)), CLASSES)
