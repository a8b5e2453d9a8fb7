from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.orders.events import GiveOrder
from monitor.report.reading import Told
from monitor.report.sections.record import ROUNDING

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Raw, Tale

S = 1_000_000_000
Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]


def test_the_summary_of_the_golden_journal(golden_page: "PageRead", raw: "Raw") -> None:
    """Opened at 22:13:20 UTC; the rest by counting the journal's own rows."""
    facts = golden_page.facts("The incident")
    ((_, opened),) = raw.said(3, "opened")
    assert (facts["name"], facts["use"]) == (opened["name"], "EXERCISE")
    assert (facts["place"], facts["entry point"], facts["stage or control level"]) == (
        opened["place"], opened["entry_point"], opened["stage"],
    )  # fmt: skip
    assert (facts["date"], facts["opened"]) == ("2023-11-14", "2023-11-14 22:13:20")
    assert facts["times are of the zone"] == "+00:00 of Universal Time"
    minutes, seconds = divmod(raw.horizon // S, 60)
    assert facts["length"] == f"{minutes} min {seconds} s"
    assert facts["people on the board"] == str(len(raw.said(2, "list_wearer")))
    wears = sum(len(one["wearers"]) for _, one in raw.said(2, "connect"))
    assert facts["stays on air"] == str(wears)
    dangers = sum(one["priority"] == 1 for _, one in raw.said(4))
    assert facts["alarms of priority danger"] == str(dangers)
    assert golden_page.table("Whose board it was") == [
        {"officer": "R. Harrow", "from": "22:13:20", "to": "where the record ends"}
    ]


def test_the_summary_names_each_call_and_says_what_is_rounded(
    tale: "Tale", tell: Tell, read_page: Read
) -> None:
    """Of three frames by their numbers one is lost: a third."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.hear(10, distress=True)
    tale.hear(15, distress=True, sequence=3)
    read = read_page(tell(tale, 30))
    facts = read.facts("The incident")
    assert ROUNDING in read.words(), "of every figure, not of losses alone"
    assert facts["calls of distress"] == "1 Alpha 1 at 22:13:30"
    assert facts["frames lost on the air"] == "33.4 %, rounded up"
    assert (
        read_page(tell(new_tale_of_nobody(tale), 1)).facts("The incident")["calls of distress"]
        == "none"
    )


def new_tale_of_nobody(tale: "Tale") -> "Tale":
    """Only the opening is left of it."""
    del tale.rows[1:]
    return tale


def test_what_is_open_at_the_end_stands_on_top(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.hear(10, distress=True)
    tale.act(20, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    words = read_page(tell(tale, 30)).words()
    assert "The incident is not closed." in words
    assert "Still on air where the record ends: Alpha 1 (1)." in words
    assert "Alarms that stand where the record ends: 1 DISTRESS of 1 Alpha 1." in words
    assert "Orders that are open where the record ends: 1 evacuate to everybody." in words


def test_what_the_rules_hold_back_does_not_stand(tale: "Tale", tell: Tell, read_page: Read) -> None:
    """All four are silent: one line tells of them, and none has a line of its own."""
    for wearer in (1, 2, 3, 4):
        tale.person(wearer, crew=f"Crew {wearer}")
    tale.act(1, events.Connect, wearers=(1, 2, 3, 4), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1, 2, 3, 4))
    for t in range(5, 105, 5):
        for wearer in (1, 2, 3, 4):
            tale.hear(t, wearer)
    page = read_page(tell(tale, 300))
    on_top = page.words().partition("Alarms that stand where the record ends: ")[2]
    on_top = on_top.partition(".")[0]
    assert "EVERYBODY SILENT of 4 of 4" in on_top
    assert "NO SIGNAL" not in on_top
    every = page.table("Every alarm, the first to be raised first")
    silent = [row["ended"] for row in every if row["alarm"] == "NO SIGNAL"]
    assert silent == ["is held back by the rules where the record ends"] * 4


def test_what_is_put_aside_is_said_apart(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.hear(5)
    (number,) = tale.alarms(100, "no_signal")
    tale.act(100, events.PutAside, alarm=number, minutes=10, reason="by voice")
    page = read_page(tell(tale, 110))
    assert (
        f"Alarms that are put aside where the record ends: {number} NO SIGNAL of 1 Alpha 1."
        in page.words()
    )
    every = page.table("Every alarm, the first to be raised first")
    (low,) = (row for row in every if row["number"] == str(number))
    assert low["ended"] == "is put aside where the record ends"


def test_a_clock_that_was_set_is_said_on_top(tale: "Tale", tell: Tell, read_page: Read) -> None:
    """Opened at 22:13:20, set on by an hour after 10 s, paused for 30 s after 20 s."""
    wall_ns = 1_700_000_000 * S
    tale.fact(10, events.ClockStep(by_ns=3600 * S, wall_ns=wall_ns + 3610 * S))
    tale.fact(20, events.WentOn(stood_ns=30 * S, wall_ns=wall_ns + 3650 * S))
    page = read_page(tell(tale, 60))
    assert "was set while it was recorded: by +1 h 0 min 0 s at 23:13:30." in page.words()
    facts = page.facts("The incident")
    assert facts["length"] == "1 min 0 s"
    assert facts["paused"] == "1 time, 30 s, not in the length"
    assert facts["length by the wall clock"] == "1 h 1 min 30 s"


def test_of_many_the_first_are_named_on_top(tale: "Tale", tell: Tell, read_page: Read) -> None:
    for wearer in range(1, 15):
        tale.act(0, events.ListWearer, wearer=wearer, name=f"W. Clay {wearer}")
        tale.act(0, events.JoinPack, wearer=wearer)
    tale.act(1, events.Connect, wearers=tuple(range(1, 15)))
    words = read_page(tell(tale, 30)).words()
    assert "W. Clay 12 (12) and 2 more." in words


def test_a_closed_one_says_when(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.act(50, events.Close)
    page = read_page(tell(tale, 60))
    assert "not closed" not in page.words()
    assert page.facts("The incident")["closed"] == "2023-11-14 22:14:20"


def test_rules_of_another_version_are_said(golden: Told, read_page: Read) -> None:
    older = replace(golden, header=golden.header.model_copy(update={"fold": 77}))
    assert (
        f"Recorded by version 77 of the rules, told here by version {FOLD_VERSION}"
        in read_page(older).words()
    )


def test_announcements_that_are_not_the_same_are_said(
    tale: "Tale", tell: Tell, read_page: Read
) -> None:
    """The tale's rows have no announcement in them, and the distress is one."""
    tale.person(1)
    tale.hear(10, distress=True)
    words = read_page(tell(tale, 20)).words()
    assert "0 alarms were announced while it was recorded, 1 by this report's rules" in words


def test_who_held_the_board_until_when(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.fact(60, events.Holder(board="b", by="M. Slip"))
    assert read_page(tell(tale, 90)).table("Whose board it was") == [
        {"officer": "R. Harrow", "from": "22:13:20", "to": "22:14:20"},
        {"officer": "M. Slip", "from": "22:14:20", "to": "where the record ends"},
    ]


def test_the_time_line_has_every_line(evening_page: "PageRead") -> None:
    lines = evening_page.table("Everything in order")
    said = {line["what"]: line for line in lines}
    assert said["order: evacuate, everybody, roof"]["by"] == "R. Harrow"
    late = said["1 Alpha 1, 2 Alpha 2: objective reached"]
    # Logged at 200 s, was at 190 s: 22:13:20 and 3 min 20 s, 3 min 10 s.
    assert (late["time"], late["was at"]) == ("22:16:40", "22:16:30")
    assert [line["time"] for line in lines] == sorted(line["time"] for line in lines)


def test_remarks_stand_together(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.person(1)
    tale.act(10, events.Note, text="hose laid")
    tale.act(20, events.Note, text="unwell", wearer=1)
    assert read_page(tell(tale, 30)).table("Remarks") == [
        {"time": "22:13:30", "remark": "hose laid", "about": "", "by": "R. Harrow"},
        {"time": "22:13:40", "remark": "unwell", "about": "1 Alpha 1", "by": "R. Harrow"},
    ]


def test_what_the_record_is(golden: Told, golden_page: "PageRead", raw: "Raw") -> None:
    facts = golden_page.facts("What this report was made from")
    assert facts["rows"] == str(len(raw.rows))
    assert facts["running digest of the newest commit"].replace(" ", "") == golden.last.digest.hex()
    assert facts["rules of the recorder"] == f"version {FOLD_VERSION}"
    announced = len(raw.said(4))
    name = "alarms announced while recording, and by this report"
    assert facts[name] == f"{announced} and {announced}: the same number"
    assert "outby verify" in golden_page.words()
    assert [row["by"] for row in golden_page.table("Stretches of recording")] == ["golden"]
