from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.orders.events import CloseOrder, EmergencyCrew, GiveOrder
from monitor.report.reading import Told

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Tale

Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]


def test_an_evacuation_with_every_answer(evening_page: "PageRead") -> None:
    """Given at 700 s, one answered by voice at 720, both out at 800."""
    facts = evening_page.facts("Order 1: evacuate, everybody")
    assert facts["given"] == "22:25:00 by R. Harrow"
    assert facts["reason"] == "roof"
    assert facts["answered"] == "1 of 2: 0 by button, 1 by voice"
    assert facts["out"] == "2 of 2"
    assert facts["state"] == "all out; closed 22:26:40, after 1 min 40 s"
    rows = evening_page.table("Answers to order 1")
    assert [row["answered by voice"] for row in rows] == ["22:25:20, after 20.0 s", "no"]


def test_a_roll_call(evening_page: "PageRead") -> None:
    facts = evening_page.facts("Order 2: roll call, everybody")
    assert facts["answered"] == "2 of 2: 0 by button, 2 by voice"
    assert facts["state"] == "all answered; closed 22:27:10, after 30 s"


def test_emergency_crews(evening_page: "PageRead") -> None:
    assert evening_page.table("Emergency crews") == [
        {"time": "22:13:30", "crew": "Beta", "state": "ready", "by": "R. Harrow"}
    ]


def test_who_has_not_answered_stands_out(tale: "Tale", tell: Tell, read_page: Read) -> None:
    for wearer, crew in ((1, "Alpha"), (2, "Beta")):
        tale.person(wearer, crew=crew)
    tale.act(1, events.Connect, wearers=(1, 2), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1, 2))
    tale.act(5, GiveOrder, order="evacuate", everybody=True, scope="everybody",
             on_order_of="M. Slip")  # fmt: skip
    tale.act(6, EmergencyCrew, crew="Beta", state="committed")
    page = read_page(tell(tale, 20))
    facts = page.facts("Order 1: evacuate, everybody")
    assert facts["on the order of"] == "M. Slip"
    assert facts["left out of it"] == "1 wearer sent in as emergency crew"
    assert facts["state"] == "open; open where the record ends"
    remarks = {row["wearer"]: row["remark"] for row in page.table("Answers to order 1")}
    assert remarks == {"Alpha 1 (1)": "NOT ANSWERED", "Alpha 2 (2)": "sent in as emergency crew"}


def test_who_has_no_pack_is_none_that_did_not_receive_it(
    tale: "Tale", tell: Tell, read_page: Read
) -> None:
    """Two with a pack, of which none answers, and one by voice only."""
    for wearer in (1, 2):
        tale.person(wearer)
    tale.act(0, events.ListWearer, wearer=3, name="W. Clay 3", crew="Alpha")
    tale.act(0, events.JoinPack, wearer=3, pack=None, water_volume_l=6.8, rated_bar=300.0)
    tale.act(1, events.Connect, wearers=(1, 2, 3), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1, 2, 3))
    tale.act(5, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    facts = read_page(tell(tale, 20)).facts("Order 1: evacuate, everybody")
    assert facts["received by the pack"] == "0 of 2 with a pack; 1 other without"


def test_one_closed_with_somebody_open_says_why(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.act(5, GiveOrder, order="come out", wearers=(1,), scope="Alpha 1")
    tale.act(9, CloseOrder, order=1, override="seen at the door")
    facts = read_page(tell(tale, 20)).facts("Order 1: come out, Alpha 1")
    assert facts["closed without everybody because"] == "seen at the door"


def test_none_was_given(golden_page: "PageRead") -> None:
    assert golden_page.words().count("None was given.") == 4
