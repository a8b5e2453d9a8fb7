from random import Random

from protocol.integrity import Keyring, checksum
from protocol.rejects import Reject
from simulators.conformance import plan
from simulators.conformance.rules import RULES
from simulators.conformance.trial import Trial
from simulators.pack import Outgoing
from tests.simulators.conformance.changes import tagged
from tests.simulators.conformance.conforming import CONFORMING, nobody
from tests.simulators.conformance.wearing import IDENTITY, Case, S, Unit, tried


def test_with_a_key_everything_is_seen_in_less_than_five_minutes(keyring: Keyring) -> None:
    found = tried(Case(), keyring)
    # Nobody sends a maker's fields or is a base radio.
    assert found.named("passed") == set(RULES) - {"appended", "radio"}
    assert found.took_s < 180


def test_an_open_pack_is_asked_what_an_open_pack_can_be_asked(keyring: Keyring) -> None:
    found = tried(Case(keyed=False), keyring)
    assert found.named("not seen") == {"appended", "radio", "forged", "other key"}


def test_the_person_at_the_pack_is_told_one_thing_after_another(keyring: Keyring) -> None:
    assert tried(Case(), keyring).prompts == [
        plan.BUTTON, plan.BUTTON, plan.BUTTON_AGAIN, plan.BUTTON, plan.COMING_OUT, plan.BUTTON,
        plan.DISTRESS, plan.DISTRESS_OFF, plan.RESTART, plan.SWITCH_OFF,
    ]  # fmt: skip


def test_what_nobody_does_is_not_seen_and_no_failure(keyring: Keyring) -> None:
    found = tried(CONFORMING["nobody at the pack"], keyring)
    assert found.named("not seen") >= {"button", "event", "copies", "coming out", "sign-off"}
    assert found.named("failed") == set()
    assert found.took_s <= 300


def test_before_its_time_is_over_it_asks_to_switch_off(keyring: Keyring) -> None:
    found = tried(Case(length_s=60), keyring)
    assert found.prompts[-1] == plan.SWITCH_OFF
    assert 45 <= found.took_s <= 60
    assert found.rows["sign-off"].verdict == "passed"


def test_a_pack_that_does_not_come_on_again_ends_the_trial(keyring: Keyring) -> None:
    found = tried(CONFORMING["switched off for good"], keyring)
    assert found.took_s < 180
    assert found.named("failed") == set()


def test_a_sign_off_that_nobody_asked_for_ends_it(keyring: Keyring) -> None:
    case = Case(acts=((20, lambda pack, t: pack.switch_off(t)),), hands={plan.BUTTON: nobody})
    assert tried(case, keyring).took_s < 26


def test_a_pack_with_another_key_says_nothing_that_counts(keyring: Keyring) -> None:
    found = tried(Case(sent=tagged(lambda unit, data: bytes(8)), length_s=10), keyring)
    assert (found.named("failed"), found.named("passed")) == ({"tag"}, set())


def test_the_clock_is_measured(keyring: Keyring) -> None:
    found = tried(CONFORMING["clock 500 parts in a million slow"], keyring)
    measured = found.trial.conduct.timing.measured
    assert measured is not None
    ppm, over_s = measured
    # A millisecond is the step of the uptime: 10 parts in a million of 100 s.
    assert abs(ppm - 500) < 20
    assert over_s > 60


def test_a_pack_that_goes_off_by_itself_is_no_fault(keyring: Keyring) -> None:
    """Nobody asked for it; questions that were open go with the boot."""
    found = tried(Case(hands={plan.DISTRESS: lambda pack, t: pack.die()}, length_s=60), keyring)
    assert found.named("failed") == set()


# ---------------------------------------------------------------- whose frames


def test_other_packs_are_counted_and_left_out(keyring: Keyring) -> None:
    def neighbour(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
        other = out.frame[:4] + b"\0\0\0\x09" + out.frame[8:-2]
        return [(t, out.frame), (t, other + checksum(other))]

    found = tried(Case(keyed=False, sent=neighbour), keyring)
    assert found.trial.others == {9}
    assert found.trial.identity == IDENTITY
    assert found.named("failed") == set()


def test_the_one_that_is_named_is_tried() -> None:
    trial = Trial(None, Random(1), 0, length_ns=S, identity=5)
    assert trial.identity == 5
    assert trial.step(0) == []
    assert trial.prompt(0) == ""


def test_noise_on_a_line_is_damage() -> None:
    trial = Trial(None, Random(1), 0, length_ns=S)
    assert not trial.hear(0, Reject.FRAMING)
    failed = [row.name for row in trial.rows(S) if row.verdict == "failed"]
    assert failed == ["checksum"]


def test_it_waits_for_whoever_is_switched_on_late() -> None:
    trial = Trial(None, Random(1), 0, length_ns=100 * S)
    assert not trial.over(99 * S)
    assert trial.over(100 * S)
