"""The whole table: every pair of state and input, latching or not, condition true or not.

Expected, by the state model of IEC 62682:2014 / ISA-18.2-2016, from memory: A normal,
B unacknowledged, C acknowledged, D returned unacknowledged, E latched unacknowledged, F latched
acknowledged, G shelved, H suppressed by design, I out of service. A -alarm-> B; B -ack-> C;
B -return-> D (E if it latches); C -return-> A (F if it latches); D -ack-> A; D -alarm again-> B;
E -ack-> F; F -reset-> A; E, F -alarm again-> B; C -re-alarm-> B; from any to G, H, I and back to A
or B by the condition.

Three choices of our own, where the diagram is silent: what latches comes back as E and not as A;
what is put aside and worsens comes back at once; H is ended by the rules alone, I by service alone.
And one beside them: what was held because a grouped alarm told it, and was taken there, needs no
second answer: it comes back from H as C.
"""

from itertools import product

import pytest

from monitor.incident.alarms.states import (
    LATCHED,
    PUT_AWAY,
    TABLE,
    WAITING,
    Input,
    State,
    next_state,
)

LETTER = dict(zip(State, "ABCDEFGHI", strict=True))
INPUTS = {
    "raise": Input.RAISE,
    "clear": Input.CLEAR,
    "worsen": Input.WORSEN,
    "ack": Input.ACKNOWLEDGE,
    "reset": Input.RESET,
    "shelve": Input.SHELVE,
    "unshelve": Input.UNSHELVE,
    "suppress": Input.SUPPRESS,
    "release": Input.RELEASE,
    "taken": Input.RELEASE_TAKEN,
    "remove": Input.REMOVE,
    "restore": Input.RESTORE,
}
# One row a state, one column an input; "-" is refused, "*" is B, "+" is C while the
# condition holds, else A, or E for one that latches.
#          raise clear worsen ack reset shelve unshelve suppress release taken remove restore
PLAIN = {
    "A": "    B     -     -    -    -     G       -        H       -       -     I      -  ",
    "B": "    -     D     B    C    -     G       -        H       -       -     I      -  ",
    "C": "    -     A     B    -    -     G       -        H       -       -     I      -  ",
    "D": "    B     -     -    A    -     G       -        H       -       -     I      -  ",
    "E": "    -     -     -    -    -     -       -        -       -       -     -      -  ",
    "F": "    -     -     -    -    -     -       -        -       -       -     -      -  ",
    "G": "    G     G     B    -    -     -       *        H       -       -     I      -  ",
    "H": "    H     H     H    -    -     -       -        -       *       +     I      -  ",
    "I": "    I     I     I    -    -     -       -        -       -       -     -      *  ",
}
LATCHING = {
    **PLAIN,
    "B": "    -     E     B    C    -     G       -        H       -       -     I      -  ",
    "C": "    -     F     B    -    -     G       -        H       -       -     I      -  ",
    "D": "    -     -     -    -    -     -       -        -       -       -     -      -  ",
    "E": "    B     -     -    F    -     G       -        H       -       -     I      -  ",
    "F": "    B     -     -    -    A     G       -        H       -       -     I      -  ",
}


@pytest.mark.parametrize("latching", [False, True])
@pytest.mark.parametrize("condition", [False, True])
def test_every_pair(latching: bool, condition: bool) -> None:
    table = LATCHING if latching else PLAIN
    checked = 0
    for state, (column, what) in product(State, enumerate(INPUTS.values())):
        expected = table[LETTER[state]].split()[column]
        if expected in "*+":
            held = "B" if expected == "*" else "C"
            expected = held if condition else "E" if latching else "A"
        after = next_state(state, what, latching=latching, condition=condition)
        assert (LETTER[after] if after else "-") == expected, (state, what)
        checked += 1
    assert checked == 9 * 12


def test_every_pair_is_listed_as_allowed_or_refused() -> None:
    assert len(State) == 9
    assert set(INPUTS.values()) == set(Input)
    assert set(TABLE) == set(product(State, Input))


@pytest.mark.parametrize(
    ("away", "back"),
    [
        (Input.SHELVE, Input.UNSHELVE),
        (Input.SUPPRESS, Input.RELEASE),
        (Input.REMOVE, Input.RESTORE),
    ],
)
def test_what_latches_never_vanishes_by_being_put_away(away: Input, back: Input) -> None:
    """Found as a defect: suppressed while latched, it came back as if nothing had been."""
    for before in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, *LATCHED):
        put_away = next_state(before, away, latching=True, condition=True)
        assert put_away is not None
        gone = next_state(put_away, Input.CLEAR, latching=True, condition=False)
        assert gone is put_away
        after = next_state(gone, back, latching=True, condition=False)
        assert after is State.LATCHED_UNACKNOWLEDGED


def test_no_state_is_a_trap() -> None:
    for state, latching in product(State, (False, True)):
        seen = {state}
        for _ in State:
            seen |= {
                after
                for before, what, condition in product(seen, Input, (False, True))
                if (after := next_state(before, what, latching=latching, condition=condition))
            }
        trapped = {State.RETURNED} if latching else set(LATCHED)
        assert state in trapped or State.NORMAL in seen


def test_what_waits_what_is_latched_and_what_is_put_away() -> None:
    assert {LETTER[s] for s in WAITING} == {"B", "D", "E"}
    assert {LETTER[s] for s in LATCHED} == {"E", "F"}
    assert {LETTER[s] for s in PUT_AWAY} == {"G", "H", "I"}
