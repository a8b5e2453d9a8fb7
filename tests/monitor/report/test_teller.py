from collections.abc import Callable
from datetime import UTC
from typing import TYPE_CHECKING

import pytest

from monitor import procedures
from monitor.incident import events
from monitor.incident.picture import AirFrom
from monitor.report.alarm_lives import Spell
from monitor.report.reading import Told
from monitor.report.teller import Teller

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Tale

S = 1_000_000_000
Tell = Callable[..., Told]


@pytest.fixture
def teller(golden: Told) -> Teller:
    return Teller(golden, UTC)


def test_what_is_left_is_cut_off_and_an_estimate_says_so(teller: Teller) -> None:
    assert teller.pressure(217.99) == "217 bar"
    assert teller.pressure(217.99, AirFrom.ESTIMATE) == "about 217 bar, estimate"
    assert teller.pressure(None) == "not known"
    assert teller.left(1720.9) == "1720 litres"
    assert teller.left(None) == "not known"


def test_where_one_must_turn_and_what_was_used_go_up(teller: Teller) -> None:
    assert teller.limit(126.01) == "127 bar"
    assert teller.limit(None) == "not known"
    assert teller.used(1720.1) == "1721 litres"
    assert teller.used(None) == "not known"


def test_in_the_units_of_the_procedure(new_tale: "type[Tale]", tell: Tell) -> None:
    """100 bar x 14.5037738 = 1450.4 psi; 1000 L / 28.316847 = 35.31 cubic feet."""
    teller = Teller(tell(new_tale(procedures.load("us-psi")), 5), UTC)
    assert (teller.pressure(100), teller.limit(100)) == ("1450 psi", "1451 psi")
    assert (teller.left(1000), teller.used(1000)) == ("35 cubic feet", "36 cubic feet")


def test_the_day_is_said_where_it_is_another(tale: "Tale", tell: Tell) -> None:
    teller = Teller(tell(tale, 8_000), UTC)
    assert teller.at(6_399 * S) == "23:59:59"
    assert teller.at(6_400 * S) == "2023-11-15 00:00:00"
    assert teller.at(None) == ""
    assert teller.clock(6_400 * S) == "00:00:00"


def test_a_spell_that_goes_on_says_so(teller: Teller) -> None:
    assert teller.spell(Spell(0, 5 * S)) == "22:13:20 to 22:13:25, 5 s"
    assert teller.spell(Spell(600 * S)) == "22:23:20, 10 s, goes on where the record ends"


def test_alarms_go_with_the_wear_in_which_they_came(tale: "Tale", tell: Tell) -> None:
    """Before the first connecting with the first, after the last wear with the last."""
    tale.person(1)
    tale.hear(1, distress=True)
    tale.act(2, events.Acknowledge, alarms=(1,))
    tale.hear(3)
    tale.act(4, events.Reset, alarm=1, reason="trial")
    for start in (10, 2_000):
        tale.act(start, events.Connect, wearers=(1,), pressure_bar=290)
        tale.hear(start + 10, distress=True)
        tale.hear(start + 15)
        tale.act(start + 50, events.Acknowledge, alarms=tale.alarms(start + 51, "distress")[-1:])
        tale.act(start + 60, events.Reset, alarm=tale.alarms(start + 61, "distress")[-1],
                 reason="trial")  # fmt: skip
        tale.act(start + 100, events.OffAir, wearers=(1,))
    tale.hear(2_200, distress=True)
    teller = Teller(tell(tale, 2_300), UTC)
    raised = [
        [life.raised_ns // S for life in teller.alarms_of(wear) if life.kind == "distress"]
        for wear in teller.found.wears.all
    ]
    assert raised == [[1, 20], [2_010, 2_200]]
    assert [teller.name_of(wear) for wear in teller.found.wears.all] == [
        "Alpha 1 (1)",
        "Alpha 1 (1), wear 2",
    ]


def test_silences_of_a_wear_end_with_it(tale: "Tale", tell: Tell) -> None:
    tale.person(1)
    tale.hear(5)
    tale.act(20, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(100, events.OffAir, wearers=(1,))
    teller = Teller(tell(tale, 300), UTC)
    assert teller.heard_of(teller.found.wears.all[0]) == [Spell(20 * S, 100 * S)]


def test_a_pack_never_heard_has_no_silences(tale: "Tale", tell: Tell) -> None:
    tale.person(1)
    tale.act(20, events.Connect, wearers=(1,), pressure_bar=290)
    teller = Teller(tell(tale, 300), UTC)
    assert teller.heard_of(teller.found.wears.all[0]) == []
