from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.report.reading import Told

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Raw, Tale

Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]
EVERY = "Every alarm, the first to be raised first"


def test_every_alarm_of_the_golden_journal(golden_page: "PageRead", raw: "Raw") -> None:
    rows = {row["number"]: row for row in golden_page.table(EVERY)}
    for _, said in raw.said(4):
        assert rows[str(said["number"])]["alarm"] == said["word"]
    taken = {n: t for t, one in raw.said(2, "acknowledge") for n in one["alarms"]}
    for number, t in taken.items():
        waited = (t - next(one["t"] for _, one in raw.said(4) if one["number"] == number)) / 1e9
        told = rows[str(number)]["acknowledged"]
        after = float(told.rpartition("after ")[2].removesuffix(" s"))
        assert "by R. Harrow" in told
        assert waited <= after < waited + 0.1


def test_what_each_means_and_where_it_comes_from(golden_page: "PageRead") -> None:
    rows = {row["alarm"]: row for row in golden_page.table("What these alarms are")}
    entry = CATALOGUE[Kind.LOW_AIR]
    assert rows[entry.word]["source of the threshold"] == entry.source
    assert rows[entry.word]["what to do"] == entry.to_do


def test_put_aside_says_by_whom_why_and_how_it_came_back(
    tale: "Tale", tell: Tell, read_page: Read
) -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.hear(5)
    (number,) = tale.alarms(150, "no_signal")
    tale.act(160, events.PutAside, alarm=number, minutes=1, reason="dead spot")
    page = read_page(tell(tale, 300))
    (row,) = page.table("Put aside")
    assert (row["for"], row["by"], row["reason"]) == ("1 minute", "R. Harrow", "dead spot")
    assert row["when"] == "22:16:00 to 22:17:00, 1 min 0 s"
    (alarm,) = [r for r in page.table(EVERY) if r["number"] == str(number)]
    assert alarm["reason"] == "put aside by R. Harrow: dead spot; its time was over"
    assert alarm["ended"] == "stands where the record ends"


def test_figures_stand_beside_published_ones(golden_page: "PageRead") -> None:
    figures = golden_page.table("Figures of this incident beside published ones")
    assert figures[0]["figure"] == "alarms in ten minutes, average"
    # Seven in 610 s: 6.885..., up to the tenth.
    assert figures[0]["here"] == "6.9"
    assert figures[0]["source"] == "ISA-18.2 (2016), from memory"
