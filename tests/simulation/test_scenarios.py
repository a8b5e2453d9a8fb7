"""Every scenario that comes with the program, in virtual time through the real base.

Its officer only takes alarms: nobody is called, nobody is ordered out. So each inject must have
its way, and the board must show it as the scenario says.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from monitor import procedures
from monitor.incident.alarms.entry import Kind
from monitor.incident.orders.events import GiveOrder
from monitor.incident.picture import OrderLineView, Picture
from simulators.fleet import Fleet
from simulators.injects import Inject
from simulators.people import roster_text
from simulators.scenario import Scenario
from simulators.scenario_file import load, names
from tests.golden.playing import OFFICER, Play, S, ask

LOAD_ONLY = ("many",)
"""Written to measure with: nothing happens in it."""
DRILLS = tuple(name for name in names() if name not in LOAD_ONLY)
EACH = [pytest.param(name, marks=pytest.mark.xdist_group(name)) for name in DRILLS]
"""One worker has all that is asked of a scenario: it plays it once."""
SEED = 1
TICK_NS = S // 4
"""A base that is idle beats so often: nothing here is about less than a second."""


@dataclass
class Told:
    """What one run had, second by second."""

    scenario: Scenario
    alarms: list[tuple[int, str, tuple[int, ...]]] = field(default_factory=list)
    """First second on the board, kind, wearers; once an alarm number."""
    notes: list[dict[str, object]] = field(default_factory=list)
    not_taken: list[str] = field(default_factory=list)
    last: Picture | None = None

    def happened_s(self, inject: Inject) -> float:
        """When it came; the test fails if it did not."""
        (note,) = [n for n in self.notes if n["what"] == "inject" and n["name"] == inject.name]
        return int(str(note["t_ns"])) / S


def begin(scenario: Scenario, folder: Path) -> Play:
    people = folder / "roster.toml"
    people.write_text(roster_text(scenario), encoding="utf-8")
    rules = procedures.load(scenario.incident.procedure)
    return Play(scenario, SEED, rules, scenario.incident.roster or people)


@cache
def played(name: str) -> Told:
    """One run; kept, since several tests look at it."""
    told, seen = Told(load(name)), set[int]()
    with TemporaryDirectory() as folder:
        play = begin(told.scenario, Path(folder))

        def look(t_ns: int) -> None:
            told.notes += [n for n in play.fleet.take_notes() if n["what"] == "inject"]
            for alarm in play.incident.picture().alarms:
                if alarm.number not in seen:
                    seen.add(alarm.number)
                    told.alarms.append((t_ns // S, alarm.kind, alarm.wearers))

        play.run(each_second=look, tick_ns=TICK_NS)
    told.not_taken, told.last = play.not_taken, play.incident.picture()
    return told


def test_there_are_at_least_six_that_last_as_long_as_a_drill() -> None:
    assert len(DRILLS) >= 6
    assert all(600 <= load(name).length_s <= 2400 for name in DRILLS)


@pytest.mark.parametrize("name", EACH)
def test_each_inject_shows_on_the_board_as_it_says(name: str) -> None:
    told = played(name)
    for inject in told.scenario.injects:
        if inject.when is not None and inject.when.ordered is not None:
            continue  # this officer orders nobody
        at_s = told.happened_s(inject)
        if inject.shows is None:
            continue
        wearers = set(inject.shows_for or inject.wearers)
        first_s = min(
            (
                second
                for second, kind, of in told.alarms
                if kind == inject.shows and wearers <= set(of) | (wearers if not of else set())
                if second >= int(at_s)
            ),
            default=None,
        )
        assert first_s is not None, f"{inject.name}: {inject.shows} never came"
        assert first_s - at_s <= inject.shows_within_s, inject.name


@pytest.mark.parametrize("name", EACH)
def test_everybody_is_out_in_the_end_and_every_act_of_the_script_was_taken(name: str) -> None:
    told = played(name)
    assert told.not_taken == []
    assert told.last is not None
    assert told.last.under_air == 0
    assert not [line.wearer for line in told.last.wearers if line.wear_ns is not None]


@pytest.mark.parametrize("name", EACH)
def test_nobody_breathes_an_empty_cylinder(name: str) -> None:
    """Trouble is to be believed: whoever runs low is on the way out before the last bar."""
    for seed in (SEED, SEED + 1):
        fleet = Fleet(load(name), seed, truth=True)
        fleet.step(fleet.end_ns)
        states = [note for note in fleet.take_notes() if note["what"] == "state"]
        on_air = [note for note in states if note["breathing_from_set"]]
        assert min(float(str(note["pressure_bar"])) for note in on_air) > 20


@pytest.mark.parametrize("name", EACH)
def test_a_drill_is_no_noise(name: str) -> None:
    """At most an alarm a minute (our own choice): a drill keeps one busy, it does not flood."""
    told = played(name)
    assert len(told.alarms) <= told.scenario.length_s / 60


@pytest.mark.parametrize("name", EACH)
def test_names_of_alarms_are_those_of_the_catalogue(name: str) -> None:
    scenario = load(name)
    named = {inject.shows for inject in scenario.injects}
    named |= {expected.alarm for expected in scenario.expected}
    assert named - {None} <= set(Kind)


@pytest.mark.parametrize("name", EACH)
def test_every_alarm_that_an_inject_shows_is_expected_to_be_answered(name: str) -> None:
    """A danger or caution that nobody is asked to take teaches nothing; notices need no key."""
    scenario = load(name)
    answered = {(expected.inject, expected.alarm) for expected in scenario.expected}
    for inject in scenario.injects:
        if inject.shows not in (None, "pre_alarm"):
            assert (inject.name, inject.shows) in answered, inject.name
    assert all(expected.why for expected in scenario.expected)


# ---------------------------------------------------------------- an evacuation

together = pytest.mark.xdist_group("evacuated")
"""Played once, by one worker."""


@pytest.fixture(scope="module")
def evacuated() -> Iterator[dict[int, dict[int, OrderLineView]]]:
    """Saltmarsh Store, where the officer orders everybody out at 520 s.

    The lines of the order by wearer, at some times after that.
    """
    found: dict[int, dict[int, OrderLineView]] = {}
    with TemporaryDirectory() as folder:
        play = begin(load("saltmarsh-store"), Path(folder))

        def order(t_ns: int) -> None:
            if t_ns == 520 * S:
                act = GiveOrder(
                    id="evacuate-1", by="O. Samphire", order="evacuate", everybody=True,
                    scope="everybody", reason="the roof sags",
                )  # fmt: skip
                ask(play.sequencer, OFFICER, act, t_ns)
            for view in play.incident.every_order():
                found[t_ns // S - 520] = {line.wearer: line for line in view.lines}

        play.run(each_second=order, tick_ns=TICK_NS)
        assert [n["name"] for n in play.fleet.take_notes() if n["what"] == "inject"][-1] == (
            "evacuated, a wall falls"
        )
        yield found


Evacuation = dict[int, dict[int, OrderLineView]]


@together
def test_who_obeys_has_received_acknowledged_and_is_out(evacuated: Evacuation) -> None:
    line = evacuated[240][1]
    assert line.received_ns is not None
    assert line.acknowledged_ns is not None
    assert line.out_ns is not None
    assert line.received_ns <= 5 * S < line.out_ns, "BS 8608:2014 clause 5: within 5 s"
    # The way out takes the 80 s of the way in, from when the button was pressed.
    assert line.out_ns - line.acknowledged_ns == pytest.approx(80 * S, abs=3 * S)


@together
def test_who_never_answers_is_told_from_who_answers_and_stays(evacuated: Evacuation) -> None:
    never, stays = evacuated[240][2], evacuated[240][3]
    assert (never.received_ns is not None, never.acknowledged_ns, never.out_ns) == (
        True,
        None,
        None,
    )
    assert never.unanswered
    assert stays.acknowledged_ns is not None
    assert (stays.out_ns, stays.unanswered, stays.waits) == (None, False, True)


@together
def test_who_does_not_hear_it_hears_it_once_they_can(evacuated: Evacuation) -> None:
    """In a shadow on the way to the pack until 740 s: 220 s after the order."""
    assert evacuated[215][4].received_ns is None
    heard = evacuated[300][4]
    assert heard.received_ns is not None
    assert 220 * S <= heard.received_ns < 235 * S
    assert heard.acknowledged_ns is not None


@together
def test_a_crew_without_telemetry_is_in_the_order_and_only_voice_reaches_it(
    evacuated: Evacuation,
) -> None:
    for wearer in (5, 6):
        line = evacuated[100][wearer]
        assert (line.telemetry, line.sent_ns, line.received_ns) == (False, None, None)
        assert line.unanswered
