import json
from collections.abc import Callable
from pathlib import Path

import pytest

from protocol import codec
from protocol.packets import Beacon, Beat, Envelope, Report
from simulators.fleet import Fleet
from simulators.injects import Inject
from simulators.instructions import InjectNow, Instruction, Instructions, Sooner, Stand, add
from simulators.player import WAIT_S_MAX, Player
from simulators.scenario import Scenario
from simulators.truth import TruthFile

S = 1_000_000_000
MakeScenario = Callable[..., Scenario]
ON = {"deeds": [{"at_s": 0, "does": "switch_on"}, {"at_s": 50, "does": "switch_off"}]}


class Time:
    """A clock that moves when somebody waits."""

    def __init__(self) -> None:
        self.ns = 1_000 * S

    def __call__(self) -> int:
        return self.ns


class Recorded:
    """An outlet that keeps what was sent and answers the first wait with a beacon."""

    def __init__(self, time: Time) -> None:
        self.name = "recorded"
        self.dropped = 0
        self.sent: list[tuple[int, bytes]] = []
        self.waits: list[float] = []
        self.answers = [codec.encode(Beacon(9, 1, 1, 0, False, 0x8F3C12A7), None)]
        self.closed = 0
        self._time = time

    def send(self, frame: bytes) -> None:
        self.sent.append((self._time.ns, frame))

    def wait(self, timeout_s: float) -> list[bytes]:
        self.waits.append(timeout_s)
        self._time.ns += max(round(timeout_s * S), 1_000_000)
        answers, self.answers = self.answers, []
        return answers

    def close(self) -> None:
        self.closed += 1


@pytest.mark.parametrize("speed", [1.0, 4.0, 0.5])
def test_frames_leave_at_their_time(make_scenario: MakeScenario, speed: float) -> None:
    time = Time()
    outlet = Recorded(time)
    fleet = Fleet(make_scenario(ON, length_s=60), 1)
    start = time.ns
    Player(fleet, [outlet], time, speed=speed).play()
    reference = Fleet(make_scenario(ON, length_s=60), 1).step(60 * S)
    assert len(outlet.sent) == len(reference)
    for (sent_ns, _), due in zip(outlet.sent, reference, strict=True):
        assert -2_000 <= (sent_ns - start) - due.t_ns / speed <= 2_000_000
    assert max(outlet.waits) <= WAIT_S_MAX


def test_what_the_base_says_is_heard(make_scenario: MakeScenario) -> None:
    time = Time()
    outlet = Recorded(time)
    Player(Fleet(make_scenario(ON, length_s=60), 1), [outlet], time).play()
    last = codec.decode(outlet.sent[-1][1])
    assert isinstance(last, Report)
    assert last.beacon_heard == 0x8F3C12A7


def test_with_a_base_radio_there_are_levels_and_beats(make_scenario: MakeScenario) -> None:
    time = Time()
    outlet = Recorded(time)
    Player(Fleet(make_scenario(ON, length_s=60), 1), [outlet], time, bare=False).play()
    packets = [codec.decode(frame) for _, frame in outlet.sent]
    assert sum(isinstance(p, Beat) for p in packets) == 61
    assert all(isinstance(p, Beat | Envelope) for p in packets)


def test_the_run_s_time_is_told_and_truth_written(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    time = Time()
    told: list[int] = []
    path = tmp_path / "run.jsonl"
    truth = TruthFile(path, scenario="Trial", seed=1, boots_before=0)
    fleet = Fleet(make_scenario(ON, length_s=60), 1, truth=True)

    def go_on(run_ns: int) -> bool:
        told.append(run_ns)
        return run_ns <= 60 * S

    Player(fleet, [Recorded(time)], time, truth=truth).play(go_on)
    truth.close()
    assert told == sorted(told)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert sum(line["what"] == "state" for line in lines) >= 10
    assert lines[-1]["what"] == "channel"
    assert lines[-1]["up"]["sent"] == sum(line["what"] == "frame" for line in lines)


def test_a_run_cut_short_still_says_what_the_radio_did(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    path = tmp_path / "run.jsonl"
    truth = TruthFile(path, scenario="Trial", seed=1, boots_before=0)
    fleet = Fleet(make_scenario(ON, length_s=60), 1, truth=True)

    def interrupted(run_ns: int) -> bool:
        if run_ns > 5 * S:
            raise KeyboardInterrupt
        return True

    time = Time()
    with pytest.raises(KeyboardInterrupt):
        Player(fleet, [Recorded(time)], time, truth=truth).play(interrupted)
    truth.close()
    assert json.loads(path.read_text().splitlines()[-1])["what"] == "channel"


def test_told_to_go_on_only_the_base_radio_is_heard_after_the_end(
    make_scenario: MakeScenario,
) -> None:
    time = Time()
    outlet = Recorded(time)
    start = time.ns
    fleet = Fleet(make_scenario(ON, length_s=60), 1)
    Player(fleet, [outlet], time, bare=False).play(lambda run_ns: run_ns < 90 * S)
    late = [codec.decode(frame) for t, frame in outlet.sent if t - start > 61 * S]
    assert len(late) == pytest.approx(29, abs=1)
    assert all(isinstance(packet, Beat) for packet in late)


# ---------------------------------------------------------------- an instructor's hand


def instructed(
    make_scenario: MakeScenario, tmp_path: Path, plan: dict[float, list[Instruction]]
) -> tuple[Recorded, list[dict[str, object]]]:
    """A run of 60 s in which these instructions come at these seconds of the clock."""
    time, path = Time(), tmp_path / "run.jsonl"
    truth = TruthFile(path, scenario="Trial", seed=1, boots_before=0)
    fleet = Fleet(make_scenario(ON, length_s=60), 1, truth=True)
    wants = tmp_path / "run.instructor.jsonl"
    start, left = time.ns, dict(plan)

    def go_on(run_ns: int) -> bool:
        for at_s in [at for at in left if time.ns - start >= at * S]:
            for one in left.pop(at_s):
                add(wants, one)
        return run_ns <= 60 * S

    outlet = Recorded(time)
    Player(fleet, [outlet], time, truth=truth, bare=False, instructions=Instructions(wants)).play(
        go_on
    )
    truth.close()
    return outlet, [json.loads(line) for line in path.read_text().splitlines()]


def test_everything_stands_still_but_the_base_radio_beats(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    plan: dict[float, list[Instruction]] = {10: [Stand()], 40: [Stand(still=False)]}
    outlet, notes = instructed(make_scenario, tmp_path, plan)
    start = 1_000 * S
    sent = [(t - start, codec.decode(frame)) for t, frame in outlet.sent]
    beats = [t for t, packet in sent if isinstance(packet, Beat)]
    heard = [t for t, packet in sent if isinstance(packet, Envelope)]
    # 60 s of the run take 90 s of the clock; a beat each second all the while.
    assert len(beats) in {90, 91, 92}
    assert not any(10.5 * S < t < 40 * S for t in heard)
    assert any(t > 60 * S for t in heard)
    stamps = [packet.radio_ms for _, packet in sent if isinstance(packet, Beat)]
    assert stamps == sorted(set(stamps))
    states = [int(str(n["t_ns"])) for n in notes if n["what"] == "state"]
    assert max(states) <= 60 * S


def test_an_inject_by_hand_comes_at_once_and_is_in_the_truth(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    inject = Inject.model_validate(
        {"name": "by hand 1", "at_s": 0, "wearers": [1], "deed": {"does": "distress"},
         "shows": "distress"}
    )  # fmt: skip
    _, notes = instructed(make_scenario, tmp_path, {20: [InjectNow(inject=inject)]})
    (came,) = [n for n in notes if n["what"] == "inject"]
    assert 20 * S <= int(str(came["t_ns"])) <= 21 * S
    assert (came["name"], came["shows"], came["wearers"]) == ("by hand 1", "distress", [1])
    assert [n["do"] for n in notes if n["what"] == "instructor"] == ["inject"]


def test_what_cannot_be_done_is_told_in_the_truth(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    nobody = Inject.model_validate(
        {"name": "by hand", "at_s": 0, "wearers": [9], "deed": {"does": "collapse"}}
    )
    pulled = Inject.model_validate(
        {"name": "pull", "at_s": 0, "deed": {"does": "receiver_pulled", "base": 2, "for_s": 5}}
    )
    plan: dict[float, list[Instruction]] = {
        5: [InjectNow(inject=nobody), InjectNow(inject=pulled), Sooner(name="nothing")]
    }
    _, notes = instructed(make_scenario, tmp_path, plan)
    refused = [n["refused"] for n in notes if "refused" in n]
    assert refused == [
        "there is no wearer 9", "there is no base radio 2", "nothing is not to come any more",
    ]  # fmt: skip


def test_an_inject_of_the_scenario_can_come_sooner_but_once(
    make_scenario: MakeScenario, tmp_path: Path
) -> None:
    fleet = Fleet(
        make_scenario(
            ON,
            length_s=60,
            injects=[{"name": "down", "at_s": 50, "wearers": [1], "deed": {"does": "collapse"}}],
        ),
        1,
        truth=True,
    )
    fleet.step(10 * S)
    assert fleet.sooner("down") == ""
    fleet.step(60 * S)
    came = [n for n in fleet.take_notes() if n["what"] == "inject"]
    assert [n["t_ns"] for n in came] == [10 * S]
    assert fleet.sooner("down") == "down is not to come any more"
