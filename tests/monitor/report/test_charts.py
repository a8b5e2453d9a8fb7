import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from monitor.incident.picture import Priority
from monitor.report.charts import (
    AIR,
    ON_AIR,
    SIGNS,
    order_levels,
    overview_chart,
    steps,
    wear_chart,
)
from monitor.report.curves import AlarmMark, Bar, Overview, WearCurves

S = 1_000_000_000
ALARMS = (
    AlarmMark(100 * S, 3, Priority.DANGER),
    AlarmMark(101 * S, 4, Priority.CAUTION),
    AlarmMark(300 * S, 5, Priority.NOTICE),
)


def clock(t: int) -> str:
    return f"12:{t // (60 * S):02}:00"


def wear(**fields: object) -> WearCurves:
    usual: dict[str, object] = {
        "title": "Alpha 1 <&$x$>", "alt": 'he said "out" <&>', "unit": "bar", "from_ns": 0,
        "to_ns": 600 * S, "readings": (((0, 300.0), (200 * S, 250.0)), ((400 * S, 200.0),)),
        "gaps": ((200 * S, 400 * S),), "estimates": (((250 * S, 240.0), (350 * S, 210.0)),),
        "voice": ((300 * S, 230.0),), "plan": ((0, 300.0), (600 * S, 200.0)),
        "limits": (("turn-back 170", 169.2),), "letters": ((0, "C"), (5 * S, "E")),
        "alarms": ALARMS, "rate": (((60 * S, 40.0), (120 * S, 55.0)),), "planned_rate": 50.0,
    }  # fmt: skip
    return WearCurves(**{**usual, **fields})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def drawn() -> str:
    return wear_chart(wear(), "w1", clock, lambda t: t)


def texts(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_it_is_one_element_that_says_what_it_shows(drawn: str) -> None:
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    assert root.tag.endswith("svg")
    assert root.get("role") == "img"
    assert root.get("aria-label") == 'he said "out" <&>'
    assert not drawn.startswith("<?xml")


def test_text_stays_text_and_names_are_no_formulas(drawn: str) -> None:
    assert "Alpha 1 &lt;&amp;$x$&gt;" in texts(drawn)


def test_everything_has_its_words(drawn: str) -> None:
    said = texts(drawn)
    for word in (
        "no reading", "estimate", "by voice", "turn-back", "170",
        "planning rate", "50", "pressure, bar", "rate, L/min", "C", "E", "3", "4",
    ):  # fmt: skip
        assert word in said, word


def test_nothing_comes_from_outside(drawn: str) -> None:
    links = re.findall(r'(?:href|src)="([^"]*)"', drawn) + re.findall(r"url\(([^)]*)\)", drawn)
    assert links
    assert all(link.startswith("#w1-") for link in links)
    assert "<script" not in drawn
    assert "<image" not in drawn


def test_inner_names_are_the_charts_own(drawn: str) -> None:
    names = re.findall(r'\bid="([^"]*)"', drawn)
    assert names
    assert all(name.startswith("w1-") for name in names)
    other = wear_chart(wear(), "w2", clock, lambda t: t)
    assert not set(names) & set(re.findall(r'\bid="([^"]*)"', other))


def test_the_same_gives_the_same(drawn: str) -> None:
    assert wear_chart(wear(), "w1", clock, lambda t: t) == drawn


def test_the_pressure_axis_begins_at_nothing(drawn: str) -> None:
    """A fall is never drawn steeper than it is."""
    assert texts(drawn).count("0") >= 1


def test_a_wear_of_which_nothing_is_known() -> None:
    empty = wear(readings=(), gaps=(), estimates=(), voice=(), plan=(), limits=(), letters=(),
                 alarms=(), rate=(), to_ns=0)  # fmt: skip
    assert "planning rate" in texts(wear_chart(empty, "w1", clock, lambda t: t))


def test_the_overview_has_a_row_for_everybody() -> None:
    bars = (
        Bar("Alpha 1-1 (1)", "Alpha 1", ((0, 500 * S),), ((50 * S, 400 * S),), ((60 * S, 90 * S),),
            ALARMS),
        Bar("W. Clay (2)", "Beta", ((0, 500 * S),), (), (), ()),
    )  # fmt: skip
    overview = Overview("Crews", "two", 0, 600 * S, bars, ((300 * S, "evacuate 1"),))
    said = texts(overview_chart(overview, "c0", clock, lambda t: t))
    for word in (
        "Alpha 1-1 (1)", "Beta, W. Clay (2)", "evacuate 1", "on air", "inside", "nothing heard",
        "danger", "caution", "notice",
    ):  # fmt: skip
        assert word in said, word


def grey(colour: str) -> float:
    """How bright a printer makes it, 0 to 255 (ITU-R BT.601)."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_it_is_read_in_grey_too() -> None:
    """What is filled differs by a twelfth of the scale at least; signs differ in form."""
    filled = sorted(map(grey, (ON_AIR["fill"], AIR, "#ffffff")))
    assert all(b - a > 255 / 12 for a, b in pairwise(filled))
    assert len({form for form, _ in SIGNS.values()}) == len(SIGNS)


def test_words_of_orders_do_not_lie_over_one_another() -> None:
    """At 6.5 points a letter takes 3.9: "evacuate 1" 39, and 3 more to the next on that line."""
    words = [(100.0, "evacuate 1"), (141.9, "come out 2"), (142.0, "roll call 3"), (490.0, "test")]
    assert order_levels(words) == [
        (100.0, "evacuate 1", 0), (141.9, "come out 2", 1), (142.0, "roll call 3", 0),
        (504 - 4 * 3.9, "test", 0),
    ]  # fmt: skip
    crowd = [(100.0, "evacuate 1")] * 9
    assert [level for _, _, level in order_levels(crowd)] == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("most", "values"),
    [
        (324.0, [0, 100, 200, 300]),
        (60.0, [0, 10, 20, 30, 40, 50, 60]),
        (1.08, [0, 1]),
        (4_860.0, [0, 1_000, 2_000, 3_000, 4_000]),
    ],
)
def test_an_axis_has_few_round_values(most: float, values: list[float]) -> None:
    assert list(steps(most)) == values


def test_a_chart_of_half_an_hour_is_small() -> None:
    """300 readings that fall unevenly, by 0 to 1 bar: at most 6 kB."""
    run = tuple((t * 6 * S, 300.0 - t / 2 + (t * 7 % 11) / 20) for t in range(300))
    drawn = wear_chart(wear(readings=(run,), to_ns=1_800 * S), "w1", clock, lambda t: t)
    assert len(drawn) < 6_000
