"""No screen and no sentence ever shows more air or more time than there is, on random pictures.

Each figure is read back from what is shown and held against the value it was made from.
"""

import re
from dataclasses import replace
from datetime import UTC
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.board.lines.columns import RowContext, fit_of, layout, wearer_line
from monitor.board.lines.header import Desk, header_lines
from monitor.board.lines.order_lines import order_block
from monitor.board.lines.rows import least_words
from monitor.board.pages.one_wearer import wearer_page
from monitor.board.pages.order_page import order_page
from monitor.board.plain.orders import orders_sentences, roll_call_words
from monitor.board.plain.words import all_of_wearer, wearer_sentence
from monitor.incident.picture import AirFrom, NextMark, Picture, WearerView

PSI_PER_BAR = 14.503_773_8
"""NIST SP 811, appendix B."""
HAIR = 1e-5
"""What floats may be out by."""

bars = st.floats(0, 450)
marks = st.builds(
    NextMark,
    st.sampled_from(["turn", "low", "empty"]),
    st.integers(-20_000, 20_000),
    st.sampled_from(["T", "R", "F"]),
    st.booleans(),
)


@st.composite
def wearers(draw: st.DrawFn, scenes: Any, number: int) -> WearerView:
    """Somebody under air of whom everything is known, in either unit."""
    bar = draw(bars)
    source = draw(st.sampled_from([AirFrom.TELEMETRY, AirFrom.VOICE, AirFrom.ESTIMATE]))
    air = replace(
        scenes.air(bar, source),
        next=draw(marks),
        turn_bar=draw(bars),
        rate_l_min=draw(st.floats(0, 400)),
        rate_mean_l_min=draw(st.floats(0, 400)),
        rate_about=draw(st.booleans()),
    )
    made: WearerView = scenes.wearer(
        number, air=air, unit=draw(st.sampled_from(["bar", "psi"])), silence_ns=draw(
            st.integers(0, 10**13)
        ),
    )  # fmt: skip
    return made


def in_unit(bar: float | None, unit: str) -> float:
    assert bar is not None
    return bar * PSI_PER_BAR if unit == "psi" else bar


def minutes(words: str) -> float:
    """Seconds that a cell or a sentence tells: the least that are left, or the most gone by."""
    over = "ago" in words or "+" in words
    found = re.search(r"(\d+) ?(h|min)?", words)
    assert found
    seconds = int(found[1]) * (3600 if found[2] == "h" else 60)
    return -seconds if over else seconds


def figure(text: str) -> int:
    found = re.search(r"\d+", text)
    assert found, text
    return int(found[0])


@settings(max_examples=300, deadline=None)
@given(data=st.data(), width=st.sampled_from([80, 110, 120, 140, 200]))
def test_the_list(scenes: Any, data: st.DataObject, width: int) -> None:
    people = tuple(data.draw(wearers(scenes, number)) for number in (1, 2))
    picture: Picture = scenes.picture(people)
    context, fitted = RowContext(picture, scenes.look(width)), fit_of(picture)
    for wearer in people:
        line = "".join(text for text, _ in wearer_line(wearer, context, fitted))
        cells: dict[str, str] = {}
        start = 0
        for column, cell_width in layout(width, fitted):
            cells[column.heading] = line[start : start + cell_width]
            start += cell_width + column.gap
        air = wearer.air
        assert air.next is not None
        assert air.rate_l_min is not None
        assert figure(cells[""]) <= in_unit(air.pressure_bar, wearer.unit) + HAIR
        assert cells["AIR"].count("#") / 10 <= (air.fraction or 0) + HAIR
        assert figure(cells["TURN AT"]) >= in_unit(air.turn_bar, wearer.unit) - HAIR
        assert minutes(cells["NEXT"]) <= air.next.seconds
        if "L/min" in cells:
            assert figure(cells["L/min"]) >= air.rate_l_min - HAIR
        if "L" in cells:
            assert figure(cells["L"]) <= (air.contents_l or 0) + HAIR
    least = least_words(people)
    named = people[figure(least.split("No ")[1]) - 1].air.next
    assert named is not None
    assert minutes(least.split(maxsplit=2)[2]) <= named.seconds


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_the_screen_of_one_wearer_and_its_sentences(scenes: Any, data: st.DataObject) -> None:
    wearer = data.draw(wearers(scenes, 4))
    picture = scenes.picture((wearer,))
    detail = scenes.detail(unit=wearer.unit)
    page = wearer_page(wearer, detail, RowContext(picture, scenes.look(120)), 40, 0)
    shown = "\n".join("".join(text for text, _ in line) for line in page.lines)
    said = " ".join([wearer_sentence(wearer), *all_of_wearer(wearer, detail, picture, UTC)])
    air, unit = wearer.air, wearer.unit
    assert air.next is not None
    assert air.rate_l_min is not None
    assert wearer.silence_ns is not None
    for text in (shown, said):
        left = re.search(rf"(?:for \d.*?[~v ])(\d+) {unit}", text)
        turn = re.search(rf"[Tt]urn (?:back )?at (\d+) {unit}", text)
        rate = re.search(r"(\d+) L/min", text)
        mark = re.search(r"(?:turn-back|low air|empty) (?:in )?[^()]*\(", text)
        silent = re.search(r"silent (\d+) (s|min|h)", text)
        assert left and turn and rate and mark and silent  # noqa: PT018 - one question
        assert int(left[1]) <= in_unit(air.pressure_bar, unit) + HAIR
        assert int(turn[1]) >= in_unit(air.turn_bar, unit) - HAIR
        assert int(rate[1]) >= air.rate_l_min - HAIR
        assert minutes(mark[0]) <= air.next.seconds
        gone = int(silent[1]) * {"s": 1, "min": 60, "h": 3600}[silent[2]]
        assert gone * 1_000_000_000 >= wearer.silence_ns
    litres = re.search(r"(\d+) L ", shown)
    assert litres
    assert int(litres[1]) <= (air.contents_l or 0) + HAIR


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_a_forecast_in_sentences(scenes: Any, data: st.DataObject) -> None:
    detail = scenes.detail(unit=data.draw(st.sampled_from(["bar", "psi"])))
    factor = data.draw(st.floats(0.01, 1.5))
    fan = tuple(
        replace(p, low_bar=p.low_bar * factor, mid_bar=p.mid_bar * factor) for p in detail.fan
    )
    wearer = scenes.wearer(4, unit=detail.unit)
    said = all_of_wearer(wearer, replace(detail, fan=fan), scenes.picture((wearer,)), UTC)
    told = [re.findall(r"(\d+) (?:bar|psi)? ?in ", s) for s in said if s.startswith("Forecast")]
    assert len(told) == 3
    for figures, point in zip(told, (fan[6], fan[13], fan[20]), strict=True):
        low, mid, high = (int(one) for one in figures)
        assert low <= in_unit(point.low_bar, detail.unit) + HAIR
        assert mid <= in_unit(point.mid_bar, detail.unit) + HAIR
        assert high <= in_unit(point.high_bar, detail.unit) + HAIR


# ---------------------------------------------------------------- orders

ages_ns = st.integers(0, 40_000 * 1_000_000_000)
AGE = r"(?:(\d+) h ?)?(?:(\d+) min ?)?(?:(\d+) s)?"


def gone_by_ns(words: str) -> int:
    """What an age says, at the most."""
    found = re.match(AGE, words)
    assert found and found[0], words  # noqa: PT018 - one question
    hours, minutes_, seconds = (int(part or 0) for part in found.groups())
    return (hours * 3600 + minutes_ * 60 + seconds) * 1_000_000_000


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_an_order_is_never_younger_nor_anybodys_air_more(scenes: Any, data: st.DataObject) -> None:
    wearer = data.draw(wearers(scenes, 4))
    times = {name: data.draw(ages_ns) for name in ("received_ns", "acknowledged_ns", "voice_ns")}
    out = {name: data.draw(ages_ns.filter(bool)) for name in ("back_ns", "out_ns")}
    line = scenes.order_line(wearer, **times, **out)
    order = scenes.order_view((line,), for_ns=data.draw(ages_ns))
    picture = scenes.picture((wearer,), orders=(order,))
    context = RowContext(picture, scenes.look(140))
    page = order_page(order, (1, 1), context, 12, 0)
    texts = ["".join(text for text, _ in one) for one in page.lines]
    assert gone_by_ns(texts[0].split("  ")[-1]) >= order.for_ns
    cells = re.findall(r".{10} ", texts[4][15:70])
    shown = (line.received_ns, line.acknowledged_ns, line.voice_ns, line.back_ns, line.out_ns)
    for cell, ns in zip(cells, shown, strict=True):
        assert gone_by_ns(cell) >= ns
    block = "".join(text for text, _ in order_block(picture, scenes.look(140), 9)[2])
    said = orders_sentences(picture)[1]
    for text in (texts[4], block, said):
        air = re.search(rf"(\d+) {wearer.unit}", text)
        assert air
        assert int(air[1]) <= in_unit(wearer.air.pressure_bar, wearer.unit) + HAIR
    over = scenes.order_view((line,), for_ns=order.for_ns, is_open=False, state="all out")
    ended = scenes.picture((wearer,), orders=(over,))
    after = orders_sentences(ended)[0].split("ALL OUT after ")[1]
    assert gone_by_ns(after) >= order.for_ns


@settings(max_examples=200, deadline=None)
@given(due_ns=st.integers(-(10**13), 10**13), wall_s=st.integers(0, 86_399))
def test_the_next_roll_call_is_never_said_later(scenes: Any, due_ns: int, wall_s: int) -> None:
    """Both are taken from midnight on; past it the time of day begins anew."""
    picture = scenes.picture((scenes.wearer(1),), roll_call_in_ns=due_ns)
    picture = replace(picture, wall_ns=wall_s * 1_000_000_000)
    line = "".join(t for t, _ in header_lines(picture, scenes.look(140), Desk())[1])
    at = re.search(r"roll call (\d\d):(\d\d)", line)
    left = re.search(r"in (\d+) min", roll_call_words(picture))
    assert ("DUE" in line) is (due_ns <= 0)
    assert (at is None) is (left is None) is (due_ns <= 0)
    if at and left:
        due_s = picture.wall_ns + due_ns
        assert (int(at[1]) * 60 + int(at[2])) * 60 * 10**9 <= due_s % (86_400 * 10**9)
        assert int(left[1]) * 60 * 10**9 <= due_ns
