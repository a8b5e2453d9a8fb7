from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.incident import Incident
from monitor.incident.picture import AirFrom
from monitor.incident.record.events import Assign, Undo
from monitor.report.alarm_lives import Spell
from monitor.report.reading import Told
from monitor.report.wears import MOMENTS_MAX, READINGS_MAX, WEARS_MAX, Moment, WearRecord, Wears
from protocol.codec import decode_trusted
from protocol.packets import Report

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw, Tale

S = 1_000_000_000


@pytest.fixture
def worn(tale: "Tale") -> "Tale":
    """A wear of ten minutes: in at 20 s, objective at 200, back at 400, out at 500, off at 600."""
    tale.person(1)
    for t in range(5, 601, 5):
        if t == 10:
            tale.act(10, events.Connect, wearers=(1,))
        if t == 20:
            tale.act(20, events.Enter, wearers=(1,), location="kiln hall", task="search")
        if t == 200:
            tale.act(200, events.ReachObjective, wearers=(1,))
        if t == 400:
            tale.act(400, events.StartBack, wearers=(1,), at_ns=390 * S)
        if t == 500:
            tale.act(500, events.ComeOut, wearers=(1,))
        tale.hear(t, bar=300 - t / 10)
    tale.act(602, events.OffAir, wearers=(1,))
    return tale


def wear_of(tale: "Tale", end_s: float = 700) -> WearRecord:
    (wear,) = tale.gathered(end_s).wears.all
    return wear


def test_every_step_with_the_pressure_on_the_board(worn: "Tale") -> None:
    """The gauge falls by a tenth of a bar a second, told every five seconds."""
    told = [(m.t // S, m.what, m.bar) for m in wear_of(worn).moments]
    assert told == [
        (10, "connected to air", 299.5),
        (20, "entered", 298.5),
        (200, "objective reached", 280.5),
        (390, "started back", 260.5),
        (500, "came out", 250.5),
        (602, "off air", 240.0),
    ]
    assert {m.source for m in wear_of(worn).moments} == {AirFrom.TELEMETRY}


def test_what_was_logged_later_keeps_both_times(worn: "Tale") -> None:
    back = wear_of(worn).last("started back")
    assert back is not None
    assert (back.t, back.logged_ns) == (390 * S, 400 * S)


def test_the_spells_of_a_wear(worn: "Tale") -> None:
    wear = wear_of(worn)
    assert wear.spell == Spell(10 * S, 602 * S)
    assert wear.inside == [Spell(20 * S, 500 * S)]
    assert (wear.entered_ns, wear.objective_ns) == (20 * S, 200 * S)
    assert (wear.back_ns, wear.out_ns, wear.task) == (390 * S, 500 * S, "search")


def test_the_air_in_full_is_that_before_the_wear_ended(worn: "Tale") -> None:
    detail = wear_of(worn).detail
    assert detail is not None
    assert detail.points[-1][1] == 240.0
    assert detail.planned is not None


def test_of_many_readings_the_lowest_of_those_close_together_are_kept(tale: "Tale") -> None:
    """An hour at one a second: one in six, and the one that was lowest of all."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,))
    for t in range(2, 3_600):
        tale.hear(t, bar=150 if t == 1_777 else 300 - t / 50)
    wear = wear_of(tale, 3_600)
    assert wear.detail is not None
    points = wear.detail.points
    assert len(points) <= READINGS_MAX + 2
    assert (1_777 * S, 150.0) in points
    assert points[-1][0] == 3_599 * S


def test_a_wear_that_goes_on_is_told_up_to_the_end(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    found = tale.gathered(60)
    (wear,) = found.wears.all
    assert (wear.spell.to_ns, wear.start_bar, wear.start_from) == (None, 290, AirFrom.ENTRY)
    assert wear.detail is not None
    assert found.wears.under_air(60 * S) == [Spell(1 * S, 60 * S)]


def test_readings_by_voice_and_other_moments(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,), location="door 2")
    tale.act(3, events.SpokenReading, wearers=(1,), pressure_bar=250, location="loft", lowest=True)
    tale.act(4, events.NewObjective, wearers=(1,), location="attic")
    tale.act(5, events.Locate, wearers=(1,), location="roof")
    tale.act(6, events.AugmentSupply, wearers=(1,))
    tale.act(7, events.AugmentSupply, wearers=(1,), on=False)
    tale.act(8, events.Note, text="hose line laid", wearer=1)
    tale.act(9, events.SetCrew, wearer=1, crew="Beta")
    tale.act(10, events.JoinPack, wearer=1, pack=None, apparatus="airline")
    tale.act(11, events.JoinPack, wearer=1, pack=77)
    wear = wear_of(tale, 20)
    told = [(m.what, m.words) for m in wear.moments[2:]]
    assert told == [
        ("gauge read out", "loft, lowest of 1 gauges"),
        ("sent on", "attic"),
        ("place", "roof"),
        ("on another supply", ""),
        ("on the own cylinder again", ""),
        ("remark", "hose line laid"),
        ("crew changed", "Beta"),
        ("pack or cylinder changed", "without telemetry"),
        ("pack or cylinder changed", "pack 77"),
    ]
    assert (wear.crew, wear.pack, wear.apparatus) == ("Beta", 77, "airline")
    reading = wear.last("gauge read out")
    assert reading is not None
    assert (reading.bar, reading.source) == (250, AirFrom.VOICE)


def test_somebody_who_goes_again_has_two_wears(tale: "Tale") -> None:
    tale.person(1)
    for start in (0, 1_000):
        tale.act(start + 1, events.Connect, wearers=(1,), pressure_bar=290)
        tale.act(start + 100, events.OffAir, wearers=(1,))
    found = tale.gathered(1_200)
    assert [wear.nth for wear in found.wears.all] == [1, 2]
    assert found.wears.under_air(1_200 * S) == [
        Spell(1 * S, 100 * S),
        Spell(1_001 * S, 1_100 * S),
    ]


def test_two_at_once_are_one_spell_under_air(tale: "Tale") -> None:
    for wearer in (1, 2):
        tale.person(wearer)
        tale.act(wearer, events.Connect, wearers=(wearer,), pressure_bar=290)
    tale.act(50, events.OffAir, wearers=(1,))
    tale.act(90, events.OffAir, wearers=(2,))
    found = tale.gathered(100)
    assert found.wears.under_air(100 * S) == [Spell(1 * S, 90 * S)]
    assert found.wears.max_under_air == 2


def test_off_air_without_coming_out_ends_both(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(2, events.Enter, wearers=(1,))
    tale.act(3, events.Enter, wearers=(1,))
    tale.act(9, events.OffAir, wearers=(1,))
    assert wear_of(tale).inside[-1].to_ns in (9 * S, None)


def test_a_crew_has_one_leader(tale: "Tale") -> None:
    tale.person(1)
    tale.person(2)
    tale.act(1, events.SetCrew, wearer=1, crew="Alpha", leader=True)
    tale.act(2, events.SetCrew, wearer=2, crew="Alpha", leader=True)
    people = tale.gathered(5).wears.people
    assert [people[n].leader for n in (1, 2)] == [False, True]


def test_what_is_too_much_is_counted(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    found = tale.gathered(2).wears
    (wear,) = found.all
    wear.moments = [Moment(1, 1, "place", "", "R. Harrow", None, AirFrom.NOWHERE)] * MOMENTS_MAX
    found.note(3, events.Note(id="act-99999", by="R. Harrow", text="x", wearer=1), _nobody())
    assert wear.moments_left_out == 1
    found.all = [wear] * WEARS_MAX
    again = events.Connect(id="act-99998", by="R. Harrow", wearers=(1,))
    found.connect(4, again, _nobody())
    assert found.left_out == 1


def test_the_golden_journal_against_its_own_rows(golden: Told, raw: "Raw") -> None:
    """Of wearer 4: times by the acts, pressures by the last frame of pack 202 before each."""
    acts = {
        one["what"]: t
        for what in ("connect", "enter", "come_out", "off_air")
        for t, one in raw.said(2, what)
        if 4 in one["wearers"]
    }
    told: list[tuple[int, float]] = []
    for t, kind, data in raw.rows:
        packet = decode_trusted(data) if kind == 1 else None
        if isinstance(packet, Report) and packet.identity == 202:
            told.append((t, (packet.pressure_dbar or 0) / 10))
    (wear,) = (wear for wear in golden.gathered.wears.all if wear.number == 4)
    assert wear.spell == Spell(acts["connect"], acts["off_air"])
    assert (wear.entered_ns, wear.out_ns) == (acts["enter"], acts["come_out"])
    for name, what in (
        ("connect", "connected to air"),
        ("come_out", "came out"),
        ("off_air", "off air"),
    ):
        at = acts[name]
        before = [bar for t, bar in told if t <= at][-1]
        moment = wear.last(what)
        assert moment is not None
        assert (moment.t, moment.bar) == (at, before)
    assert wear.detail is not None
    shown = [bar for t, bar in told if acts["connect"] < t <= acts["off_air"]]
    assert [bar for _, bar in wear.detail.points][-1] == shown[-1]
    assert wear.samples[0].t > acts["connect"]


def _nobody() -> Incident:
    return Incident()


def test_nobody_is_under_air_of_nobody() -> None:
    assert Wears().under_air(100) == []


def test_what_was_told_in_two_goes_before_connecting_is_whole(tale: "Tale") -> None:
    """Only the last of them was in the report; the board had both."""
    tale.person(1)
    tale.act(1, Assign, wearers=(1,), task="search")
    tale.act(2, Assign, wearers=(1,), communications="radio")
    tale.act(3, events.Connect, wearers=(1,))
    wear = wear_of(tale)
    assert (wear.task, wear.communications) == ("search", "radio")


def test_the_next_wear_is_told_its_own(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, Assign, wearers=(1,), task="search")
    tale.act(2, events.Connect, wearers=(1,))
    tale.act(3, events.OffAir, wearers=(1,))
    tale.act(4, events.Connect, wearers=(1,))
    assert [wear.task for wear in tale.gathered(9).wears.all] == ["search", ""]


def test_marks_that_are_not_said_again_stay(tale: "Tale") -> None:
    tale.person(1)
    tale.act(1, events.JoinPack, wearer=1, pack=101, set_id="S-1", cylinder_id="C-1")
    tale.act(2, events.JoinPack, wearer=1, pack=101)
    tale.act(3, events.Connect, wearers=(1,))
    wear = wear_of(tale)
    assert (wear.set_id, wear.cylinder_id) == ("S-1", "C-1")


def test_a_step_that_was_taken_back_is_told_and_counts_no_more(tale: "Tale") -> None:
    """Out by a slip at 300 s, back in the record at 320: one spell inside, and both are told."""
    tale.person(1)
    for t in range(5, 601, 5):
        if t == 10:
            tale.act(10, events.Connect, wearers=(1,))
        if t == 20:
            tale.act(20, events.Enter, wearers=(1,))
        if t == 300:
            tale.act(300, events.ComeOut, id="act-slip-1", wearers=(1,))
        if t == 320:
            tale.act(320, Undo, of="act-slip-1", wearers=(1,))
        tale.hear(t, bar=300 - t / 10)
    wear = wear_of(tale)
    assert wear.inside == [Spell(20 * S, None)]
    assert wear.out_ns is None
    assert [m.what for m in wear.moments[-2:]] == ["came out", "last step taken back"]
