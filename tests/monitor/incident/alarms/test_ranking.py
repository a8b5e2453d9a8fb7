"""The ranking against pairs that were judged before it was written, and against its own rules."""

from pathlib import Path
from typing import NamedTuple

import pytest

from monitor.incident.alarms import ranking
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.ranking import RANKING, About, Left, Place, left_of, place_of
from monitor.incident.picture import Priority

PAIRS = Path(ranking.__file__).with_name("ORDER-PAIRS.md")
SHARE_MAX = 0.05
S = 1_000_000_000


class Side(NamedTuple):
    """One alarm of a pair, as its words say."""

    kind: Kind
    priority: Priority
    air_s: int | None
    raised_ns: int
    taken: bool

    def place(self, number: int) -> Place:
        return place_of(
            self.kind,
            self.priority,
            self.air_s,
            taken=self.taken,
            raised_ns=self.raised_ns,
            number=number,
        )


def side(words: str) -> Side:
    name, *rest = (word.strip() for word in words.split(","))
    kind = Kind(name)
    made = Side(kind, CATALOGUE[kind].priority, None, -30 * S, taken=False)
    for word in rest:
        match word.split():
            case ["danger" | "caution" | "notice"]:
                made = made._replace(priority=Priority[word.upper()])
            case ["air", minutes]:
                made = made._replace(air_s=int(float(minutes) * 60))
            case ["for", seconds]:
                made = made._replace(raised_ns=-int(seconds) * S)
            case ["taken"]:
                made = made._replace(taken=True)
            case [_, "of", _]:
                assert kind is Kind.SEVERAL_SILENT
            case _:
                pytest.fail(f"a side of a pair says {word!r}")
    return made


def pairs() -> list[tuple[str, str]]:
    rows = [line for line in PAIRS.read_text().splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    return [(first, then) for first, then, _ in cells if first not in {"first", "---"}]


def test_no_more_than_one_pair_in_twenty_stands_the_other_way_round() -> None:
    judged = pairs()
    assert len(judged) >= 200
    assert len(set(judged)) == len(judged)
    # The one judged to come second has the lower number, so that a tie counts as a disagreement.
    wrong = [
        f"{first} over {then}"
        for first, then in judged
        if not side(first).place(2) < side(then).place(1)
    ]
    assert len(wrong) <= SHARE_MAX * len(judged), wrong


def test_every_kind_is_ranked_and_judged() -> None:
    assert set(RANKING) == set(Kind)
    assert {side(one).kind for pair in pairs() for one in pair} == set(Kind)
    assert all(rank.why for rank in RANKING.values())


@pytest.mark.parametrize("kind", [k for k, rank in RANKING.items() if rank.about is About.BASE])
def test_no_trouble_of_the_base_ever_stands_above_a_person(kind: Kind) -> None:
    base = place_of(kind, Priority.DANGER, None, taken=False, raised_ns=0, number=1)
    for other, rank in RANKING.items():
        if rank.about is About.PERSON:
            person = place_of(other, Priority.NOTICE, None, taken=True, raised_ns=9, number=2)
            assert person < base, other


@pytest.mark.parametrize("kind", list(Kind))
def test_what_wants_its_answer_at_once_is_a_danger(kind: Kind) -> None:
    rank, priority = RANKING[kind], CATALOGUE[kind].priority
    if left_of(rank, priority, None) is Left.AT_ONCE:
        assert priority is Priority.DANGER
    if priority is Priority.DANGER:
        assert left_of(rank, priority, None) <= Left.TWO_MIN


def test_air_that_is_known_is_the_time_to_act() -> None:
    low = RANKING[Kind.LOW_AIR]
    steps = {180: Left.AT_ONCE, 181: Left.ONE_MIN, 360: Left.ONE_MIN, 361: Left.TWO_MIN,
             720: Left.TWO_MIN, 721: Left.FIVE_MIN, -5: Left.AT_ONCE}  # fmt: skip
    for air_s, left in steps.items():
        assert left_of(low, Priority.DANGER, air_s) is left, air_s
    assert left_of(low, Priority.DANGER, None) is Left.ONE_MIN
    # A caution keeps its own time, and what is not of air takes no notice of air.
    assert left_of(RANKING[Kind.TURN_BACK], Priority.CAUTION, 100) is Left.ONE_MIN
    assert left_of(RANKING[Kind.PACK_OFF], Priority.DANGER, 100) is Left.TWO_MIN


def test_air_counts_in_steps_so_that_lines_do_not_change_places_with_every_reading() -> None:
    def low(air_s: int, raised_ns: int) -> Place:
        return place_of(
            Kind.LOW_AIR, Priority.DANGER, air_s, taken=False, raised_ns=raised_ns, number=1
        )

    assert low(300, 1) < low(280, 2)
    assert low(270, 2) < low(280, 1)


def test_words_of_the_time_to_act() -> None:
    assert ranking.within(Kind.DISTRESS) == "at once"
    assert ranking.within(Kind.DISK) == "5 min; as a danger 1 min"
