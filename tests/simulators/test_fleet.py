import itertools
import json
from collections.abc import Callable
from statistics import mean

import pytest

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Beacon, Kind, Motion, Order, OrderKind, Receipt, Report
from simulators.air import COUNTED, Heading
from simulators.channel import Loss
from simulators.fleet import NOTES_MAX, Fleet, OnAir
from simulators.scenario import Scenario
from simulators.scenario_file import load

S = 1_000_000_000
MakeScenario = Callable[..., Scenario]
ON = {"deeds": [{"at_s": 0, "does": "switch_on"}]}


@pytest.fixture(scope="module")
def kiln_lane() -> list[tuple[int, Report]]:
    """Reports of the whole scenario as the base hears them, copies of events left out."""
    seen: set[tuple[int, int]] = set()
    found: list[tuple[int, Report]] = []
    fleet = Fleet(load("kiln-lane"), 1)
    for sent in fleet.step(fleet.end_ns):
        packet = codec.decode(sent.frame)
        if isinstance(packet, Report) and (packet.identity, packet.sequence) not in seen:
            seen.add((packet.identity, packet.sequence))
            found.append((sent.t_ns, packet))
    return found


def test_the_same_seed_gives_the_same_bytes_and_truth() -> None:
    runs = []
    for _ in range(2):
        fleet = Fleet(load("kiln-lane"), 5, truth=True)
        runs.append((fleet.step(fleet.end_ns), json.dumps(fleet.take_notes())))
    assert runs[0] == runs[1]
    other = Fleet(load("kiln-lane"), 6)
    assert other.step(other.end_ns) != runs[0][0]


def test_the_steps_a_run_is_cut_into_change_nothing() -> None:
    whole = Fleet(load("kiln-lane"), 5)
    cut = Fleet(load("kiln-lane"), 5)
    pieces: list[OnAir] = []
    t = 0
    while t < 120 * S:
        t += 333_333_333
        pieces += cut.step(t)
    assert pieces == whole.step(t)


def test_one_more_pack_does_not_shift_the_others(make_scenario: MakeScenario) -> None:
    radio = {"up": EVERYTHING, "range": {"floor_dbm": -72}}
    two = Fleet(make_scenario(ON, ON, radio=radio), 3)
    three = Fleet(make_scenario(ON, ON, ON, radio=radio), 3)
    alone = two.step(300 * S)
    beside = three.step(300 * S)
    assert [sent for sent in beside if sent.pack != 3] == alone
    assert any(sent.pack == 3 for sent in beside)


def test_frames_come_in_order_of_time() -> None:
    fleet = Fleet(load("kiln-lane"), 1)
    times = [sent.t_ns for sent in fleet.step(fleet.end_ns)]
    assert times == sorted(times)
    assert times[-1] < fleet.end_ns
    assert fleet.due_ns is None


def test_losses_are_counted_and_near_their_share(make_scenario: MakeScenario) -> None:
    fleet = Fleet(make_scenario(*[ON] * 40, radio={"up": {"loss": 0.1}}), 1)
    heard = fleet.step(600 * S)
    up = fleet.counts[Heading.UP]
    assert up["sent"] == len(heard) + up["loss"]
    assert up["arrived"] == len(heard)
    # About 5,000 frames: three standard errors are 3 sqrt(.1 x .9 / 5000) = 0.013.
    assert up["loss"] / up["sent"] == pytest.approx(0.1, abs=0.013)


EVERYTHING: dict[str, object] = {
    "loss": 0.1,
    "bursts": {"begin": 0.05, "end": 0.3},
    "corrupt": 0.1,
    "delay_ms": [10, 200],
    "reorder": 0.1,
    "repeat": 0.1,
}


def test_with_every_effect_on_each_frame_is_accounted_for(make_scenario: MakeScenario) -> None:
    radio = {"up": EVERYTHING, "down": EVERYTHING, "shared": {}, "range": {"floor_dbm": -72}}
    plan = {"deeds": [*ON["deeds"], {"at_s": 600, "does": "switch_off"}]}
    fleet = Fleet(make_scenario(*[plan] * 10, radio=radio), 1)
    heard: list[OnAir] = []
    for t in range(1, 600):
        heard += fleet.step(t * S)
        fleet.hear(codec.encode(Beacon(9, 1, t, 0, False, 7), None))
    heard += fleet.step(700 * S)
    for way in fleet.counts.values():
        lost = sum(way[cause] for cause in Loss)
        # Everything sent is lost under one cause, or there once, or there twice.
        assert way["sent"] == lost + way["arrived"] - way["repeated"]
        missing = [name for name in COUNTED if not way[name] and name != "shadow"]
        assert missing == []
    assert fleet.counts[Heading.UP]["arrived"] == len(heard)
    assert [sent.t_ns for sent in heard] == sorted(sent.t_ns for sent in heard)


@pytest.mark.parametrize(("packs", "interval_s"), [(10, 1), (20, 1)])
def test_packs_on_a_shared_channel_lose_what_pure_aloha_says(
    make_scenario: MakeScenario, packs: int, interval_s: int
) -> None:
    """Delivery (1 - 2 tau / P)^(N - 1); the tight check is in the tests of the air."""
    plan = {**ON, "interval_s": interval_s}
    fleet = Fleet(make_scenario(*[plan] * packs, radio={"shared": {}}), 1)
    heard = fleet.step(600 * S)
    up = fleet.counts[Heading.UP]
    # The radio adds 10 bytes and sends 50 kbit/s.
    tau_s = mean(len(sent.frame) + 10 for sent in heard) * 8 / 50_000
    period_s = 0.95 * interval_s  # packs report a random twentieth early
    expected = (1 - 2 * tau_s / period_s) ** (packs - 1)
    assert up["arrived"] / up["sent"] == pytest.approx(expected, abs=0.03)


def test_packs_farther_than_the_radio_reaches_are_not_heard(make_scenario: MakeScenario) -> None:
    # 33 dB weaker at 100 m than at 10 m: -103 dBm; 66 dB at 1000 m: -136 dBm, below -110.
    near, far = {**ON, "distance_m": 100}, {**ON, "distance_m": 1000}
    fleet = Fleet(make_scenario(near, far, radio={"range": {}}), 1)
    heard = fleet.step(300 * S)
    assert {sent.pack for sent in heard} == {1}
    assert mean(sent.signal_dbm for sent in heard) == pytest.approx(-103, abs=1)


def test_the_truth_says_what_became_of_each_frame(make_scenario: MakeScenario) -> None:
    radio = {"up": {"loss": 0.2, "corrupt": 0.2, "repeat": 0.2}}
    fleet = Fleet(make_scenario(ON, radio=radio), 1, truth=True)
    heard = fleet.step(600 * S)
    notes = json.loads(json.dumps(fleet.take_notes()))
    frames = [note for note in notes if note["what"] == "frame"]
    arrivals = [t for note in frames if not note["lost"] for t in note["arrives_ns"]]
    assert sorted(arrivals) == [sent.t_ns for sent in heard]
    assert {note["lost"] for note in frames} == {None, "loss"}
    channel = [note for note in notes if note["what"] == "channel"]
    assert len(channel) == 9  # with the first frame of each minute, but the first
    last = json.loads(json.dumps(fleet.channel_line()))
    assert last["up"]["sent"] == len(frames)
    assert set(last["down"]) == set(COUNTED)


def test_a_frame_on_its_way_is_due(make_scenario: MakeScenario) -> None:
    fleet = Fleet(make_scenario({}, radio={"down": {"delay_ms": [300, 300]}}), 1)
    assert fleet.due_ns is None
    fleet = Fleet(make_scenario(ON, radio={"down": {"delay_ms": [300, 300]}}), 1)
    fleet.step(20 * S)
    fleet.hear(codec.encode(Beacon(9, 1, 1, 0, False, 7), None))
    assert fleet.due_ns == 20 * S
    fleet.step(20 * S)
    assert fleet.due_ns is not None
    assert fleet.due_ns <= 20 * S + 300_000_000


def test_a_beacon_is_echoed_by_every_pack_within_reach(make_scenario: MakeScenario) -> None:
    shaded = {"deeds": [*ON["deeds"], {"at_s": 1, "does": "shadow", "for_s": 5}]}
    fleet = Fleet(make_scenario(ON, shaded, {}), 1)
    fleet.step(3 * S)
    fleet.hear(codec.encode(Beacon(9, 1, 1, 0, False, 0x8F3C12A7), None))
    echoed = {}
    for sent in fleet.step(20 * S):
        packet = codec.decode(sent.frame)
        assert isinstance(packet, Report)
        echoed[packet.identity] = packet.beacon_heard
    assert echoed == {1: 0x8F3C12A7, 2: 0}


def test_an_order_reaches_its_pack_alone_and_is_answered_at_once(
    make_scenario: MakeScenario,
) -> None:
    fleet = Fleet(make_scenario(ON, ON), 1, truth=True)
    last = max(sent.t_ns for sent in fleet.step(20 * S) if sent.pack == 1)
    assert last < 20 * S
    notes = [n for n in fleet.take_notes() if n["what"] == "frame" and n["pack"] == 1]
    sequence = int(str(notes[-1]["sequence"]))
    fleet.hear(codec.encode(Order(1, 1, sequence, 0, False, 9, 1, OrderKind.TEST), None))
    assert fleet.due_ns == 20 * S
    answers = [codec.decode(sent.frame) for sent in fleet.step(40 * S)]
    assert {p.identity for p in answers if isinstance(p, Receipt)} == {1}
    assert [n["kind"] for n in fleet.take_notes() if n["what"] == "order"] == ["TEST"]


def test_keyed_packs_are_genuine_to_their_base(keyring: Keyring) -> None:
    fleet = Fleet(load("kiln-lane"), 1, keyring)
    assert all(isinstance(codec.receive(s.frame, keyring), Report) for s in fleet.step(60 * S))


def test_boots_before_are_added(make_scenario: MakeScenario) -> None:
    fleet = Fleet(make_scenario({**ON, "boot": 12}), 1, boots_before=1000)
    packets = [codec.decode(sent.frame) for sent in fleet.step(10 * S)]
    assert {p.boot for p in packets if isinstance(p, Report)} == {1012}


def test_truth_is_bounded_and_only_noted_when_asked(make_scenario: MakeScenario) -> None:
    fleet = Fleet(make_scenario(ON), 1)
    fleet.step(60 * S)
    assert fleet.take_notes() == []
    noted = Fleet(make_scenario(ON), 1, truth=True)
    noted.step(70 * S)
    kinds = {note["what"] for note in noted.take_notes()}
    assert kinds == {"state", "frame", "deed", "channel"}
    assert NOTES_MAX == 1_000_000


# ---------------------------------------------------------------- the scenario that comes with it


def raised(reports: list[tuple[int, Report]], pack: int, motion: Motion) -> list[int]:
    return [
        t // S
        for t, p in reports
        if p.identity == pack and p.kind is Kind.EVENT and p.motion is motion
    ]


def test_kiln_lane_pre_alarm_clears(kiln_lane: list[tuple[int, Report]]) -> None:
    assert raised(kiln_lane, 101, Motion.PRE_ALARM) == [42]
    assert raised(kiln_lane, 101, Motion.MOVING)[0] == 48
    assert raised(kiln_lane, 101, Motion.ALARM) == []


def test_kiln_lane_goes_wrong_within_two_minutes(kiln_lane: list[tuple[int, Report]]) -> None:
    low = [t for t, p in kiln_lane if p.identity == 202 and p.low_air]
    assert 50 * S < low[0] < 100 * S
    distress = [t for t, p in kiln_lane if p.distress]
    assert distress[0] // S == 105
    assert {p.identity for _, p in kiln_lane if p.distress} == {102}
    heard = [t for t, p in kiln_lane if p.identity == 301]
    silence = max(b - a for a, b in itertools.pairwise(heard))
    # Longer than the out-of-range time-out of 45 s, ended before the scenario is half over.
    assert 140 * S < silence < 200 * S
    assert heard[-1] > 500 * S


def test_kiln_lane_has_a_full_motion_alarm_later(kiln_lane: list[tuple[int, Report]]) -> None:
    assert raised(kiln_lane, 302, Motion.ALARM) == [330]


def test_kiln_lane_ends_in_order(kiln_lane: list[tuple[int, Report]]) -> None:
    off = {p.identity: t // S for t, p in kiln_lane if p.kind is Kind.SIGN_OFF}
    assert sorted(off) == [101, 102, 201, 202, 301, 302, 401, 402]
    assert max(off.values()) < 600
    last = {p.identity: p for _, p in kiln_lane}
    assert all(p.kind is Kind.SIGN_OFF and not p.distress for p in last.values())
    assert min(p.pressure_dbar or 0 for p in last.values()) > 500


@pytest.mark.parametrize("seed", range(2, 8))
def test_kiln_lane_runs_dry_for_nobody_whatever_the_seed(seed: int) -> None:
    fleet = Fleet(load("kiln-lane"), seed, truth=True)
    fleet.step(fleet.end_ns)
    states = [note for note in fleet.take_notes() if note["what"] == "state"]
    assert min(float(str(note["pressure_bar"])) for note in states) > 50
