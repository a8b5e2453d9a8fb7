"""What must hold of every run of ``orders_world``, whatever was lost, forged or killed."""

from monitor.incident.orders.book import ANSWERS_TOO
from monitor.incident.orders.order import RULES, Line
from monitor.incident.orders.order import Order as Given
from protocol.packets import Kind, OrderKind
from tests.simulation.orders_world import END_NS, Person, S, World

WITHIN_NS = 5 * S
"""BS 8608:2014 clause 5: indicated at the destination within 5 s of initiation."""
REACHED_NS = 90 * S
"""By then a pack in range has the order: at 60 % loss each way some 40 copies have gone out."""


def check(world: World) -> None:
    """Everything, at the end of a run."""
    _numbers_mean_one_order(world)
    for person in world.people:
        _obeys_only_what_it_was_selected_for(world, person)
        _one_instance_each(world, person)
    for order in world.orders.values():
        _answers_are_true(world, order)
        _reachable_packs_receive(world, order)
    _closed_with_nobody_in(world)
    if world.loss == (0.0, 0.0) and not world.kills:
        _within_five_seconds(world)


def _numbers_mean_one_order(world: World) -> None:
    for key, acts in world.acts_of.items():
        assert len(acts) == 1, f"pack and number {key} were used for {acts}"


def _act_of(world: World, person: Person, number: int) -> str:
    assert person.identity is not None
    (act,) = world.acts_of[person.identity, number]
    return act


def _obeys_only_what_it_was_selected_for(world: World, person: Person) -> None:
    covered = {o.given.id for o in world.orders.values() if person.number in o.lines}
    lost = {act for act in world.given if act not in {o.given.id for o in world.orders.values()}}
    for t, order, _boot in person.obeyed:
        act = _act_of(world, person, order.order)
        if act == "confirmation":
            assert order.what in (OrderKind.DISTRESS_CONFIRMED, OrderKind.COMING_OUT_CONFIRMED)
            asked = [s for s in world.said if s.wearer == person.number and s.what is order.what]
            assert any(said.t <= t for said in asked), "confirmed what nobody said"
            continue
        assert act in covered | lost, f"wearer {person.number} obeyed {act} unselected"
        assert order.what is RULES[world.given[act].order].wire


def _one_instance_each(world: World, person: Person) -> None:
    """In each boot of a pack.

    A lesser order that a greater has overtaken may come again; so does an evacuation to somebody
    who goes in again while it stands, or was of an emergency crew meanwhile.
    """
    seen: dict[tuple[str, int], int] = {}
    for _t, order, boot in person.obeyed:
        act = _act_of(world, person, order.order)
        if act != "confirmation":
            seen[act, boot] = seen.get((act, boot), 0) + 1
    confirmed = sum(said.wearer == person.number for said in world.said)
    for (act, _boot), times in seen.items():
        urgency = RULES[world.given[act].order].urgency
        overtaking = sum(RULES[given.order].urgency < urgency for given in world.given.values())
        overtaking += confirmed if urgency else 0
        # What was lost with the recorder may have reached the pack and been answered: an order of
        # which no act is left, or the answer that let a lesser one go.
        overtaking += len(set(world.given) - {order.given.id for order in world.orders.values()})
        overtaking += world.counts.get("kill", 0)
        assert times <= 1 + overtaking + person.asked_anew, f"{act} came {times} times"


def _answers_are_true(world: World, order: Given) -> None:
    """What the list says was received and acknowledged was, at the pack and by its wearer."""
    for line in order.lines.values():
        person = world.people[line.wearer - 1]
        if line.received_ns is not None:
            assert any(_answers(world, person, o.order, order) for _, o, _ in person.obeyed)
        if line.acknowledged_ns is not None:
            assert any(_answers(world, person, number, order) for _, _, number in person.pressed)


def _answers(world: World, person: Person, number: int, order: Given) -> bool:
    act = _act_of(world, person, number)
    if act == order.given.id:
        return True
    given = world.given.get(act)
    return given is not None and order.given.order in ANSWERS_TOO[given.order]


def _reachable_packs_receive(world: World, order: Given) -> None:
    """Whoever is in range hears of it, as long as it stands and nothing more urgent goes first."""
    for line in order.lines.values():
        person = world.people[line.wearer - 1]
        end_ns = order.closed_ns if order.closed_ns is not None else END_NS
        until_ns = min(end_ns, line.out_ns if line.out_ns is not None else END_NS)
        since_ns = max(line.since_ns, _quiet_since(world, order, line))
        if until_ns - since_ns < REACHED_NS or line.committed:
            continue
        if order.rule.over == "answered" and line.voice_ns is not None:
            continue
        if person.unimpaired(line.since_ns, until_ns):
            assert line.received_ns is not None, f"wearer {line.wearer} never had {order.number}"


def _quiet_since(world: World, order: Given, line: Line) -> int:
    """When the last thing that goes before this order was over for this wearer."""
    before = 0
    for other in world.orders.values():
        mate = other.lines.get(line.wearer)
        if mate is None or other is order or other.rule.urgency > order.rule.urgency:
            continue
        done = mate.answered_ns if mate.answered_ns is not None else mate.out_ns
        closed = other.closed_ns if other.closed_ns is not None else END_NS
        before = max(before, closed if done is None else min(done, closed))
    restarts = world.counts.get("kill", 0) + world.counts.get("reboot", 0)
    return max(before, *(s.t for s in world.said), 0) if restarts == 0 else END_NS


def _closed_with_nobody_in(world: World) -> None:
    for order in world.orders.values():
        if order.is_open or order.rule.over != "out":
            continue
        assert not order.override, "nobody wrote one"
        for line in order.lines.values():
            assert line.committed or line.out_ns is not None
            if not line.committed and line.out_ns is not None:
                assert order.closed_ns is not None
                assert line.out_ns <= order.closed_ns


def _within_five_seconds(world: World) -> None:
    for said in world.said:
        if said.t > END_NS - WITHIN_NS:
            continue
        person = world.people[said.wearer - 1]
        if not person.unimpaired(0, END_NS):
            continue
        assert said.shown_ns is not None
        assert said.shown_ns - said.t <= WITHIN_NS
    for order in world.orders.values():
        for line in order.lines.values():
            person = world.people[line.wearer - 1]
            if not person.unimpaired(0, END_NS) or line.late or line.committed:
                continue
            if not _alone(world, order, line):
                continue
            times = [t for t, o, _ in person.obeyed if _answers(world, person, o.order, order)]
            assert times
            assert times[0] - line.since_ns <= WITHIN_NS


def _alone(world: World, order: Given, line: Line) -> bool:
    """Whether nothing else went to this wearer until the order should have been there."""
    until_ns = line.since_ns + WITHIN_NS
    others = [o for o in world.orders.values() if o is not order and line.wearer in o.lines]
    if any(other.given_ns <= until_ns for other in others):
        return False
    return not any(s.wearer == line.wearer and s.t <= until_ns for s in world.said)


# ---------------------------------------------------------------- what it costs

BITS_A_SECOND = 50_000
RADIO_BYTES = 10
"""Such a radio adds preamble 4, synchronisation 2, length 1, checksum 2, ramp 1."""


def share_of_air(world: World, from_ns: int, to_ns: int, *kinds: Kind) -> float:
    """Share of a 50 kbit/s channel that frames of these kinds take in that time."""
    sizes = [size for t, kind, size in world.air if from_ns <= t < to_ns and kind in kinds]
    return sum(8 * (size + RADIO_BYTES) for size in sizes) * S / BITS_A_SECOND / (to_ns - from_ns)
