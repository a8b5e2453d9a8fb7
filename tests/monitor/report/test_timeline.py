from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.report.reading import Told
from monitor.report.timeline import LINES_MAX, Line, Source, Timeline

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw, Tale

S = 1_000_000_000


def told(tale: "Tale", end_s: float) -> list[tuple[float, str, str]]:
    lines = tale.gathered(end_s).timeline.lines
    return [(line.t / S, line.by, line.words) for line in lines]


def test_what_was_done_stands_before_what_came_of_it(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,), location="kiln hall")
    tale.hear(10, distress=True)
    lines = told(tale, 30)
    assert lines[0][2] == "incident opened by R. Harrow, exercise, procedure plain"
    assert (2.0, "R. Harrow", "1 Alpha 1: entered, kiln hall") in lines
    at = lines.index((2.0, "R. Harrow", "1 Alpha 1: entered, kiln hall"))
    raised = [line for line in lines if "DISTRESS" in line[2]]
    assert raised == [(10.0, "", f"{raised[0][2]}")]
    assert "1 Alpha 1: raised, the wearer's button" in raised[0][2]
    assert lines.index(raised[0]) > at


def test_an_alarm_says_who_took_it_and_after_how_long(tale: "Tale") -> None:
    tale.person(1)
    tale.hear(10, distress=True)
    tale.act(22.35, events.Acknowledge, alarms=(1,))
    tale.hear(40)
    tale.act(50, events.Reset, alarm=1, reason="found well")
    lines = [line[1:] for line in told(tale, 60) if line[0] > 20]
    assert lines == [
        # 12.35 s, and what somebody waited goes up.
        ("R. Harrow", "alarm 1 DISTRESS, 1 Alpha 1: acknowledged after 12.4 s"),
        ("", "alarm 1 DISTRESS, 1 Alpha 1: its condition ended"),
        ("R. Harrow", "alarm 1 reset: found well"),
    ]


def test_a_deadline_stands_where_it_fell(tale: "Tale") -> None:
    """Told with the next row, at 300 s; it fell when the silence was too long, before."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.hear(5)
    tale.act(300, events.Note, text="late")
    lines = told(tale, 301)
    at = next(t for t, _, said in lines if "NO SIGNAL" in said)
    assert 35 <= at <= 96
    assert [t for t, _, _ in lines] == sorted(t for t, _, _ in lines)


def test_put_aside_and_back(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.hear(5)
    tale.act(100, events.Note, text="x")
    number = next(
        life.number for life in tale.gathered(101).lives.in_order() if life.kind == "no_signal"
    )
    tale.act(110, events.PutAside, alarm=number, minutes=1, reason="dead spot")
    tale.act(400, events.Note, text="y")
    said = [words for t, _, words in told(tale, 401) if 105 < t < 180]
    assert f"alarm {number} put aside for 1 minute: dead spot" in said
    assert any("no longer put aside" in words or "more urgent" in words for words in said)


def test_an_act_that_was_refused_or_repeated_is_not_told(tale: "Tale") -> None:
    tale.act(1, events.Note, id="same-0001", text="once")
    tale.act(2, events.Note, id="same-0001", text="twice")
    tale.act(3, events.OffAir, wearers=(9,))
    said = [words for _, _, words in told(tale, 5)]
    assert said[1:] == ["remark: once"]


def test_refused_frames_are_not_lines(tale: "Tale") -> None:
    tale.fact(1, events.Refused(link=1, counts={"CHECKSUM": 1}))
    assert len(told(tale, 2)) == 1


def test_what_was_logged_later_says_when_it_was(tale: "Tale") -> None:
    tale.person(1)
    tale.act(30, events.Connect, wearers=(1,), pressure_bar=290, at_ns=20 * S)
    line = tale.gathered(31).timeline.lines[-1]
    assert (line.t, line.earlier_ns, line.source) == (30 * S, 20 * S, Source.OFFICER)


def test_what_is_too_much_is_counted() -> None:
    line = Timeline()
    line.lines = [Line(1, Source.BASE, "", "x")] * LINES_MAX
    line.fact(2, events.BoardsAlive(alive=True))
    assert (len(line.lines), line.left_out) == (LINES_MAX, 1)


def test_every_act_of_the_golden_journal_is_a_line(golden: Told, raw: "Raw") -> None:
    """Acknowledgements are told by their alarms."""
    acts = [(t, one) for t, one in raw.said(2) if one["what"] != "acknowledge"]
    lines = golden.gathered.timeline.lines
    assert [line.t for line in lines if line.source is Source.OFFICER] == [t for t, _ in acts]
    acknowledged = [line.t for line in lines if "acknowledged after" in line.words]
    assert acknowledged == [t for t, _ in raw.said(2, "acknowledge")]


def test_whoever_joins_an_alarm_of_several_stands_in_the_record(tale: "Tale") -> None:
    """One crew; the second pack tells 11 s between reports when the first has been taken."""
    for wearer in (1, 2):
        tale.person(wearer)
    tale.act(1, events.Connect, wearers=(1, 2), pressure_bar=290)
    tale.hear(10, 1, interval_s=11)
    tale.act(12, events.Acknowledge, alarms=(1,))
    tale.hear(14, 2, interval_s=11)
    gathered = tale.gathered(20)
    said = [(line.t / S, line.words) for line in gathered.timeline.lines if "SLOW" in line.words]
    assert said[-1] == (14.0, "alarm 1 REPORTS TOO SLOW, 1 Alpha 1: joined by 2")
    assert gathered.lives.by_number[1].wearers == {1, 2}
