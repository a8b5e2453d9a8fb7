"""A drawing, read back by a parser of its own."""

import re
from math import sin
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from monitor.report.svg import Drawing, Looks, number, simplified, width

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0, "0"), (-0.04, "0"), (12.04, "12"), (12.06, "12.1"), (-3.5, "-3.5"), (100, "100")],
)
def test_a_length_is_as_short_as_it_can_be(value: float, shown: str) -> None:
    assert number(value) == shown


def test_words_are_wider_the_more_letters_there_are() -> None:
    assert width("abcd", 10) == 24


def through(path: str) -> list[tuple[float, float]]:
    """The points of a path of M and l, added up as the standard says (SVG 1.1, 8.3)."""
    found: list[tuple[float, float]] = []
    for letter, rest in re.findall(r"([Ml])([^Ml]+)", path):
        x, y = map(float, re.findall(r"-?[0-9.]+", rest))
        if letter == "l":
            x, y = x + found[-1][0], y + found[-1][1]
        found.append((x, y))
    return found


def test_a_line_goes_through_its_points_and_rounding_does_not_add_up() -> None:
    points = [(n * 0.333, 50 + 30 * sin(n)) for n in range(300)]
    drawing = Drawing("d", "alt", 100, 100)
    drawing.lines(points, stroke="red")
    (path,) = ET.fromstring(drawing.svg()).iter(f"{SVG}path")  # noqa: S314 - our own
    drawn = through(path.get("d") or "")
    assert drawn[-1] == pytest.approx(points[-1], abs=0.06)
    assert path.get("fill") == "none"


def test_a_line_of_one_point_is_a_dot_and_of_none_is_nothing() -> None:
    drawing = Drawing("d", "alt", 100, 100)
    drawing.lines([(5, 5)], stroke="red")
    drawing.lines([], stroke="red")
    root = ET.fromstring(drawing.svg())  # noqa: S314 - our own
    assert [one.tag for one in root] == [f"{SVG}circle"]


def test_words_and_what_is_said_of_it_are_text() -> None:
    drawing = Drawing("d", 'he said "out" <&>', 100, 100)
    drawing.words((1, 2), "</text><script>")
    root = ET.fromstring(drawing.svg())  # noqa: S314 - our own
    assert root.get("aria-label") == 'he said "out" <&>'
    assert [one.text for one in root] == ["</text><script>"]


def test_a_hatch_is_defined_where_it_is_used_alone() -> None:
    plain, hatched = Drawing("a", "", 9, 9), Drawing("b", "", 9, 9)
    plain.box((0, 0), 5, 5, fill="red")
    hatched.box((0, 0), 5, 5, fill="hatch")
    assert "pattern" not in plain.svg()
    assert 'id="b-hatch"' in hatched.svg()
    assert 'fill="url(#b-hatch)"' in hatched.svg()


def test_what_lies_on_a_line_is_left_out_and_nothing_else() -> None:
    """300 points of a straight line are two; a corner of 0.2 stays, one of 0.05 does not."""
    straight = [(n * 0.5, 100 - n * 0.25) for n in range(300)]
    assert simplified(straight) == [straight[0], straight[-1]]
    assert simplified([(0, 0), (5, 0.2), (10, 0)]) == [(0, 0), (5, 0.2), (10, 0)]
    assert simplified([(0, 0), (5, 0.05), (10, 0)]) == [(0, 0), (10, 0)]
    assert simplified([(0, 0), (5, 5), (0, 0)]) == [(0, 0), (5, 5), (0, 0)]
    assert simplified([(1, 1)]) == [(1, 1)]


def test_looks_that_many_share_are_a_class_whose_style_says_the_same() -> None:
    """Names of presentation attributes are those of properties (SVG 1.1, 6.1)."""
    looks = Looks([{"stroke": "red", "stroke_width": 0.5}, {"font_size": "6.5"}])
    drawing = Drawing("d", "alt", 100, 100, looks)
    drawing.line((0, 0), (1, 1), stroke="red", stroke_width=0.5)
    drawing.line((0, 0), (1, 1), stroke="blue")
    drawing.words((0, 0), "x", 6.5)
    root = ET.fromstring(drawing.svg())  # noqa: S314 - our own
    assert [(one.get("class"), one.get("stroke")) for one in root] == [
        ("l0", None), (None, "blue"), ("l1", None),
    ]  # fmt: skip
    assert ".l0 { stroke: red; stroke-width: 0.5; }\n" in looks.css
    assert ".l1 { font-size: 6.5px; }\n" in looks.css


def test_a_page_has_the_style_of_every_class_in_it(golden_page: "PageRead") -> None:
    used = {e.get("class") for e in golden_page.root.iter() if e.tag.startswith(SVG)} - {None}
    assert used
    assert all(f".{name} {{" in golden_page.text for name in used)
