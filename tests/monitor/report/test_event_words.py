from typing import Any, get_args

import pytest
from pydantic import BaseModel

from monitor.incident import events
from monitor.incident.base_power import BasePower
from monitor.incident.orders.events import (
    AnswerByVoice,
    CloseOrder,
    EmergencyCrew,
    GiveOrder,
)
from monitor.incident.second_place import SecondPlace
from monitor.report.event_words import _ACTS, _FACTS, act_words, fact_words, who
from monitor.report.wears import Person

PEOPLE = {n: Person(n, f"W. Clay {n}", f"Alpha {n}", "Alpha", leader=False) for n in range(1, 20)}
BY: dict[str, Any] = {"id": "act-00001", "by": "R. Harrow"}


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (
            events.ListWearer(**BY, wearer=1, name="W. Clay", crew="Alpha", leader=True),
            "1 Alpha 1: on the board, W. Clay, Alpha, leader",
        ),
        (
            events.JoinPack(**BY, wearer=1, pack=7, water_volume_l=6.8, rated_bar=300),
            "1 Alpha 1: checked in, pack 7, 6.8 litre cylinder, rated 300 bar",
        ),
        (events.JoinPack(**BY, wearer=1), "1 Alpha 1: checked in, no telemetry"),
        (events.SetCrew(**BY, wearer=2, crew=""), "2 Alpha 2: now in no crew"),
        (
            # Cut off: what is left never goes up.
            events.Connect(**BY, wearers=(2, 1), pressure_bar=299.9),
            "1 Alpha 1, 2 Alpha 2: connected to air, 299 bar",
        ),
        (
            events.Enter(**BY, wearers=(1,), location="kiln hall", task="search"),
            "1 Alpha 1: entered, kiln hall, search",
        ),
        (events.Locate(**BY, wearers=(1,), location="loft"), "1 Alpha 1: now at loft"),
        (events.ComeOut(**BY, wearers=(1,)), "1 Alpha 1: came out"),
        (events.OffAir(**BY, wearers=(1,)), "1 Alpha 1: off air"),
        (
            events.SpokenReading(**BY, wearers=(1, 2), pressure_bar=240, lowest=True),
            "1 Alpha 1, 2 Alpha 2: gauge read out: 240 bar, the lowest of these",
        ),
        (
            events.ReachObjective(**BY, wearers=(1,), pressure_bar=250),
            "1 Alpha 1: objective reached, 250 bar",
        ),
        (events.NewObjective(**BY, wearers=(1,), location="attic"), "1 Alpha 1: sent on, attic"),
        (events.StartBack(**BY, wearers=(1,)), "1 Alpha 1: started back"),
        (events.AugmentSupply(**BY, wearers=(1,)), "1 Alpha 1: on another supply"),
        (
            events.AugmentSupply(**BY, wearers=(1,), on=False),
            "1 Alpha 1: on the own cylinder again",
        ),
        (
            events.PutAside(**BY, alarm=4, minutes=1, reason="dead spot"),
            "alarm 4 put aside for 1 minute: dead spot",
        ),
        (
            events.AmendStart(**BY, wearers=(1,), pressure_bar=280),
            "1 Alpha 1: pressure at connecting, told or put right: 280 bar",
        ),
        (
            events.TrustGauge(**BY, wearer=1, counts="pack"),
            "1 Alpha 1: of gauge and pack that contradict each other the pack counts",
        ),
        (events.TakeBack(**BY, alarm=4), "alarm 4 taken back"),
        (events.Acknowledge(**BY, alarms=(4, 5)), "alarm 4 and 5 acknowledged"),
        (events.Reset(**BY, alarm=4, reason="found well"), "alarm 4 reset: found well"),
        (events.Silence(**BY, seconds=60), "sound silenced for 60 seconds"),
        (events.EnrolAgain(**BY, pack=7), "pack 7 enrolled again"),
        (
            GiveOrder(
                **BY,
                order="evacuate",
                everybody=True,
                scope="everybody",
                reason="roof",
                on_order_of="M. Slip",
            ),
            "order: evacuate, everybody, roof, on the order of M. Slip",
        ),
        (AnswerByVoice(**BY, order=2, wearers=(1,)), "1 Alpha 1: order 2 answered by voice"),
        (CloseOrder(**BY, order=2, override="all seen"), "order 2 closed, all seen"),
        (
            EmergencyCrew(**BY, crew="Alpha 4", state="ready"),
            "Alpha 4 as emergency crew: ready",
        ),
        (events.Note(**BY, text="hose laid"), "remark: hose laid"),
        (events.Note(**BY, text="hose laid", wearer=1), "1 Alpha 1: remark: hose laid"),
        (events.Close(**BY, override="all out by voice"), "incident closed, all out by voice"),
    ],
)
def test_acts(act: events.Act, said: str) -> None:
    assert act_words(act, PEOPLE, "bar") == said


def test_pressures_are_in_the_procedures_unit_cut_off() -> None:
    """299.9 bar x 14.5037738 = 4349.68 psi."""
    act = events.Connect(**BY, wearers=(1,), pressure_bar=299.9)
    assert act_words(act, PEOPLE, "psi").endswith("4349 psi")


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        (
            events.Resumed(down_ns=65_900_000_000, known_by="boot clock", wall_ns=1),
            "recorder back after 1 min 5 s (by boot clock)",
        ),
        (events.Stall(from_ns=0, to_ns=1_500_000_000), "the base stood still for 1 s"),
        (
            events.TimeMoved(by_ns=2_000_000_000, known_by="pack uptime"),
            "incident time moved on by 2 s",
        ),
        (events.ClockStep(by_ns=-1_500_000_000, wall_ns=1), "wall clock set by -1.500 s"),
        (events.LinkState(link=1, name="udp 1", up=False, detail="gone"), "link udp 1 down, gone"),
        (
            events.Refused(link=1, counts={"TAG": 2, "NOT_KEYED": 1}),
            "frames refused: 2 tag, 1 not keyed",
        ),
        (events.DiskState(state="low", detail="3 MB"), "disk low, 3 MB"),
        (
            SecondPlace(state="no answer", path="/media/card"),
            "the second place did not answer, what it has is left there: /media/card",
        ),
        (
            SecondPlace(state="merged", path="/card/0.spill", rows=7),
            "7 rows brought into the journal from /card/0.spill",
        ),
        (events.SoundState(state="player"), "sound by player"),
        (BasePower(state="battery", percent=31), "base on battery, 31 %"),
        (BasePower(state="mains"), "base on mains"),
        (events.BoardsAlive(alive=False), "no board draws any more"),
        (events.BoardsAlive(alive=True), "a board draws"),
        (events.PackClock(pack=7, ppm=9_500), "the clock of pack 7 is at least 0.95 % slow"),
        (events.PackClock(pack=7, ppm=-600), "the clock of pack 7 is at least 0.06 % fast"),
        (events.Holder(board="b", by="R. Harrow"), "board held by R. Harrow"),
        (events.Holder(board="", by=""), "nobody holds the board"),
    ],
)
def test_facts(fact: events.Fact, said: str) -> None:
    assert fact_words(fact) == said


def test_of_many_the_first_are_named_and_the_rest_counted() -> None:
    assert who(range(1, 16), PEOPLE).endswith("12 Alpha 12 and 3 more")


def test_somebody_not_on_the_board_is_a_number() -> None:
    assert who((44,), PEOPLE) == "44"


class Evacuate(BaseModel):
    """An act of a later version."""

    id: str
    by: str
    what: str = "evacuate_all"
    wearers: tuple[int, ...] = ()
    spoken: bool = True
    answer: str = ""


def test_what_has_no_words_here_is_told_by_its_fields() -> None:
    act: Any = Evacuate(**BY, wearers=(1,))
    assert act_words(act, PEOPLE, "bar") == "1 Alpha 1: evacuate all, spoken True"
    assert fact_words(act) == "evacuate all, spoken True"


def test_words_are_only_of_acts_and_facts_that_there_are() -> None:
    acts = set(get_args(get_args(events.Act)[0]))
    facts = set(get_args(get_args(events.Fact)[0]))
    assert set(_ACTS) <= acts
    assert set(_FACTS) <= facts
