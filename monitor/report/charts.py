"""Curves as drawings, by matplotlib, each as one piece of SVG to stand in a page.

The only module that needs matplotlib, the extra ``report``. What a colour says a form, a line or a
word says as well: the page is read in grey too.
"""

import io
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from html import escape
from typing import Any, Literal

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from monitor.incident.picture import Priority
from monitor.report.alarm_figures import PRIORITY_WORDS
from monitor.report.curves import (
    APART,
    AlarmMark,
    Bar,
    Overview,
    Point,
    WearCurves,
    levels,
    ticks,
)

Clock = Callable[[int], str]
"""The time of day of an instant of the record."""
Wall = Callable[[int], int]

WIDTH_IN = 7.0
"""The width of a page of A4 or Letter between margins of 16 mm."""
WEAR_HEIGHT_IN = 3.6
ROW_IN = 0.24
INK, MILD, FAINT = "#1a1a1a", "#5c5c5c", "#e4e4e4"
AIR, RATE = "#0b4f8a", "#7a3e00"
DANGER, CAUTION, NOTICE = "#a8071a", "#8a5a00", "#4a4a4a"
SIGNS = {
    Priority.DANGER: ("s", DANGER),
    Priority.CAUTION: ("^", CAUTION),
    Priority.NOTICE: ("o", NOTICE),
}
"""Square, triangle, circle: as the square and triangle of the board, told apart in grey."""
_STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial", "sans-serif"],
    "font.size": 7.5,
    "axes.edgecolor": MILD,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "hatch.linewidth": 0.4,
    "hatch.color": "#9a9a9a",
    "path.simplify": False,
}
"""Text stays text. Names of people are never read as formulas."""


_PLACE = {"left": 0.085, "right": 0.86, "top": 0.87, "bottom": 0.12, "hspace": 0.16}
"""Where the two frames of a wear stand. Fixed: to reckon it anew takes as long as to draw it."""


@contextmanager
def _figure(height_in: float, layout: Literal["constrained"] | None) -> Iterator[Figure]:
    # Not as a ``matplotlibrc`` says that lies in the current folder: it can start LaTeX.
    with mpl.rc_context({**mpl.rcParamsDefault, **_STYLE}):
        figure = Figure(figsize=(WIDTH_IN, height_in), layout=layout)
        FigureCanvasSVG(figure)
        yield figure


def _svg(figure: Figure, name: str, alt: str) -> str:
    """The drawing as one element. ``name`` makes its inner names its own in the page."""
    out = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": name}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, count=1, flags=re.DOTALL)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(href="#|url\(#)', rf"\g<1>{name}-", text)
    head = f'<svg role="img" aria-label="{escape(alt)}" '
    return re.sub(r"<svg ", lambda _found: head, text, count=1).rstrip()


# ---------------------------------------------------------------- one wear


def wear_chart(curves: WearCurves, name: str, clock: Clock, wall: Wall) -> str:
    """Pressure above, rate below, on one axis of time."""
    with _figure(WEAR_HEIGHT_IN, None) as figure:
        air, rate = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1), gridspec_kw=_PLACE)
        _pressure(air, curves)
        _rate(rate, curves)
        marks = ticks(curves.from_ns, curves.to_ns, wall)
        rate.set_xlim(curves.from_ns, max(curves.to_ns, curves.from_ns + 1))
        rate.set_xticks(marks, [clock(t)[:5] for t in marks])
        rate.set_xlabel("time of day", loc="left")
        handles, _ = air.get_legend_handles_labels()
        figure.legend(handles=handles, loc="lower right", ncols=5, fontsize=6.5, frameon=False)
        return _svg(figure, name, curves.alt)


def _pressure(axes: Axes, curves: WearCurves) -> None:
    for number, (start, end) in enumerate(curves.gaps):
        label = "no reading" if number == 0 else "_"
        axes.axvspan(
            start, end, facecolor="#f4f4f4", hatch="////", edgecolor="#9a9a9a", lw=0, label=label
        )
    _lines(axes, (curves.plan,), "as planned", color=MILD, lw=0.8, ls=(0, (6, 3)))
    _lines(axes, curves.estimates, "estimate", color=AIR, lw=1.0, ls=(0, (1, 1.5)))
    _lines(axes, curves.readings, "read by the pack", color=AIR, lw=1.6)
    if curves.voice:
        axes.plot(
            *zip(*curves.voice, strict=True), "D", ms=5, mfc="white", mec=INK, label="by voice"
        )
    highest = max((value for _, value in curves.limits), default=0.0)
    for word, value in curves.limits:
        axes.axhline(value, color=INK, lw=0.7, ls=(0, (8, 2, 1, 2)))
        _at_the_edge(axes, word, value, above=value == highest)
    axes.set_ylim(0, _top(curves))
    axes.set_ylabel(f"pressure, {curves.unit}")
    axes.set_title(curves.title, loc="left", fontsize=8.5, fontweight="bold", pad=16)
    axes.grid(axis="y", color=FAINT, lw=0.5)
    axes.set_axisbelow(True)
    apart = round((curves.to_ns - curves.from_ns) * APART)
    _signs(axes, curves.alarms, apart)
    heights = levels([t for t, _ in curves.letters], apart)
    for (t, letter), level in zip(curves.letters, heights, strict=True):
        axes.annotate(
            letter, (t, 0), xycoords=("data", "axes fraction"), xytext=(0, 3 + 8 * level),
            textcoords="offset points", ha="center", fontsize=6.5, fontweight="bold",
        )  # fmt: skip
        axes.axvline(t, ymax=0.04, color=INK, lw=0.6)


def _at_the_edge(axes: Axes, word: str, value: float, *, above: bool) -> None:
    """Say what a level line is, beside the frame, where it covers nothing.

    ``above``: it stands over the line, so that two lines near one another keep their words apart.
    """
    said, _, figure = word.rpartition(" ")
    axes.annotate(
        f"{said}\n{figure}", (1, value), xycoords=("axes fraction", "data"), xytext=(3, 0),
        textcoords="offset points", va="bottom" if above else "top", fontsize=6.5,
        annotation_clip=False,
    )  # fmt: skip


def _lines(
    axes: Axes,
    several: Sequence[Sequence[Point]],
    label: str,
    **look: Any,  # noqa: ANN401 - handed on as it is
) -> None:
    """Several pieces of one line; it stands in the legend once."""
    for number, points in enumerate(piece for piece in several if piece):
        times, values = zip(*points, strict=True)
        marker = "." if len(points) == 1 else ""
        axes.plot(times, values, label=label if number == 0 else "_", marker=marker, **look)


def _top(curves: WearCurves) -> float:
    values = [value for run in curves.readings for _, value in run]
    values += [value for _, value in curves.plan + curves.voice]
    values += [value for _, value in curves.limits]
    return max(values, default=1.0) * 1.08


def _signs(axes: Axes, alarms: Sequence[AlarmMark], apart_ns: int) -> None:
    """Alarms over the frame, each with its number; where two would meet the later stands higher."""
    heights = levels([alarm.t for alarm in alarms], apart_ns)
    for alarm, level in zip(alarms, heights, strict=True):
        form, colour = SIGNS[alarm.priority]
        axes.axvline(alarm.t, color=colour, lw=0.6, ls=":")
        height = 1.02 + 0.05 * level
        axes.plot(
            [alarm.t], [height], form, color=colour, ms=4, clip_on=False,
            transform=axes.get_xaxis_transform(),
        )  # fmt: skip
        axes.annotate(
            str(alarm.number), (alarm.t, height), xycoords=("data", "axes fraction"),
            xytext=(3.5, -2.5), textcoords="offset points", fontsize=6, annotation_clip=False,
        )  # fmt: skip


def _rate(axes: Axes, curves: WearCurves) -> None:
    _lines(axes, curves.rate, "rate", color=RATE, lw=1.2)
    planned = curves.planned_rate
    axes.axhline(planned, color=MILD, lw=0.8, ls=(0, (6, 3)))
    _at_the_edge(axes, f"planning rate {planned:g}", planned, above=True)
    highest = max((value for run in curves.rate for _, value in run), default=0.0)
    axes.set_ylim(0, max(highest, curves.planned_rate) * 1.2)
    axes.set_ylabel("rate,\nlitres a minute")
    axes.grid(axis="y", color=FAINT, lw=0.5)
    axes.set_axisbelow(True)


# ---------------------------------------------------------------- everybody


def overview_chart(overview: Overview, name: str, clock: Clock, wall: Wall) -> str:
    """One bar a wearer, on one axis of time."""
    count = len(overview.bars)
    with _figure(1.3 + ROW_IN * count, "constrained") as figure:
        axes = figure.subplots()
        for row, bar in enumerate(overview.bars):
            _bar(axes, row, bar)
        for t, word in overview.orders:
            axes.axvline(t, color=INK, lw=0.8, ls=(0, (4, 2)))
            axes.annotate(
                word, (t, 1), xycoords=("data", "axes fraction"), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=6.5, annotation_clip=False,
            )  # fmt: skip
        axes.set_ylim(count - 0.4, -0.6)
        axes.set_yticks(range(count), [_row_label(bar) for bar in overview.bars])
        axes.tick_params(axis="y", length=0)
        marks = ticks(overview.from_ns, overview.to_ns, wall)
        axes.set_xlim(overview.from_ns, max(overview.to_ns, overview.from_ns + 1))
        axes.set_xticks(marks, [clock(t)[:5] for t in marks])
        axes.set_xlabel("time of day")
        axes.set_title(overview.title, loc="left", fontsize=8.5, fontweight="bold", pad=14)
        axes.grid(axis="x", color=FAINT, lw=0.5)
        axes.set_axisbelow(True)
        _key(figure)
        return _svg(figure, name, overview.alt)


def _row_label(bar: Bar) -> str:
    alone = not bar.crew or bar.label.startswith(bar.crew)
    return bar.label if alone else f"{bar.crew}, {bar.label}"


def _bar(axes: Axes, row: int, bar: Bar) -> None:
    looks: tuple[tuple[Sequence[tuple[int, int]], dict[str, Any]], ...] = (
        (bar.on_air, ON_AIR | {"height": 0.62}),
        (bar.inside, _INSIDE | {"height": 0.34}),
        (bar.silent, _SILENT | {"height": 0.62}),
    )
    for spells, look in looks:
        starts = [start for start, _ in spells]
        axes.barh(row, [end - start for start, end in spells], left=starts, **look)
    for alarm in bar.alarms:
        form, colour = SIGNS[alarm.priority]
        axes.plot([alarm.t], [row], form, color=colour, ms=4.5, mec="white", mew=0.5)


ON_AIR: dict[str, Any] = {"facecolor": "#dbe7f2", "edgecolor": AIR, "lw": 0.6}
_INSIDE = {"facecolor": AIR}
_SILENT = {"facecolor": "#ffffffb0", "edgecolor": MILD, "hatch": "/////", "lw": 0.4}


def _key(figure: Figure) -> None:
    """What each form means, whether or not it is there."""
    patches = [
        Patch(**look, label=word)
        for look, word in ((ON_AIR, "on air"), (_INSIDE, "inside"), (_SILENT, "nothing heard"))
    ]
    signs = [
        Line2D([], [], ls="", marker=form, color=colour, label=PRIORITY_WORDS[priority], ms=4.5)
        for priority, (form, colour) in SIGNS.items()
    ]
    figure.legend(
        handles=[*patches, *signs], loc="outside lower center", ncols=6, fontsize=6.5, frameon=False
    )
