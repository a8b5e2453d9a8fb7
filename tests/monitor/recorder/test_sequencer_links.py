"""Links as the sequencer knows them: frames on a wire, base radios, receivers that fall quiet."""

from typing import Any

from monitor.incident.events import LinkState, Refused
from monitor.incident.rows import RowKind
from monitor.links.chunk import Chunk
from monitor.recorder.receivers import NO_BEAT, NO_FRAMES
from protocol.codec import encode
from protocol.framing import wrap
from protocol.packets import Beat

MS = 1_000_000
S = 1_000_000_000


def test_frames_on_a_wire_are_found_in_any_pieces_and_noise(base: Any, pack: Any) -> None:
    state = LinkState(link=2, name="serial", up=True)
    base.sequencer.link_state(state, base.stamp, wire=True)
    data = b"\x01\x02noise\x00" + wrap(pack.frame(base.boot_ns)) + wrap(pack.frame(base.boot_ns))
    for at in range(0, len(data), 7):
        base.sequencer.heard([Chunk(2, base.stamp, None, data[at : at + 7])], base.stamp)
    base.beat(10 * MS)
    assert [row.link for row in base.rows if row.kind is RowKind.FRAME] == [2, 2]
    (refused,) = base.facts("refused")
    assert isinstance(refused.what, Refused)
    assert (refused.what.link, sum(refused.what.counts.values())) == (2, 1)


def test_one_frame_by_two_radios_counts_once(base: Any, pack: Any) -> None:
    wire = LinkState(link=2, name="serial", up=True)
    base.sequencer.link_state(wire, base.stamp, wire=True)
    frame = pack.frame(base.boot_ns)
    base.hear(frame, link=1)
    base.sequencer.heard([Chunk(2, base.stamp, None, wrap(frame))], base.stamp)
    base.beat(10 * MS)
    assert [row.link for row in base.rows if row.kind is RowKind.FRAME] == [1]
    # A copy is neither a loss nor a repetition, so nothing is said of it.
    base.beat(2 * S)
    assert base.facts("refused") == []


def test_a_wire_hears_the_beacon_at_once(base: Any) -> None:
    base.beat()
    state = LinkState(link=2, name="serial", up=True)
    base.sequencer.link_state(state, base.stamp, wire=True)
    (send,) = base.beat(20 * MS).sends
    assert (send.link, send.address) == (2, None)


def test_a_base_radio_that_falls_quiet_is_said_and_holds_back_what_it_explains(base: Any) -> None:
    base.hold()
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    base.hear(encode(Beat(radio=1, radio_ms=0, frames_heard=0), None))
    base.beat(2 * S)
    assert [f.what.up for f in base.facts("link_state")] == [True]
    base.beat(1 * S)
    down = base.facts("link_state")[-1].what
    assert (down.up, down.name, down.detail) == (False, "udp", NO_BEAT)
    assert [a.kind for a in base.sequencer.incident.picture().alarms] == ["receiver_down"]
    # 9 x 5 s + 1 s of silence from connecting: no signal, were it not for the radio.
    base.beat(60 * S)
    assert [a.kind for a in base.sequencer.incident.picture().alarms] == ["receiver_down"]
    base.hear(encode(Beat(radio=1, radio_ms=9, frames_heard=0), None))
    base.beat(10 * MS)
    assert base.facts("link_state")[-1].what.up
    base.hear(encode(Beat(radio=1, radio_ms=9, frames_heard=0), None))
    base.beat(2 * S)
    assert [a.state for a in base.sequencer.incident.picture().alarms] == [
        "returned, unacknowledged"
    ]


def beat_of_radio(base: Any) -> None:
    base.hear(encode(Beat(radio=1, radio_ms=0, frames_heard=0), None))


def announced(base: Any) -> list[tuple[str, int]]:
    """What became an alarm since; that no board draws here is another matter."""
    said = [a for a in base.sequencer.take_sounds() if not a.again and a.kind != "no_board"]
    return [(a.kind, a.t) for a in said]


def receiver_is(base: Any) -> str:
    """State of the only alarm of a receiver."""
    alarms = base.sequencer.incident.picture().alarms
    (state,) = [alarm.state for alarm in alarms if alarm.kind == "receiver_down"]
    return str(state)


def two_inside(make: Any) -> tuple[Any, list[Any]]:
    """Two wearers under air whose packs are live, by way of a base radio that beats."""
    base = make.base(packs=[101, 102])
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    packs = [make.pack(None, identity) for identity in (101, 102)]
    make.live(base, packs[0])
    packs[1].beacon = packs[0].beacon
    for second in range(10):
        beat_of_radio(base)
        if second % 5 == 0:
            base.hear(*(pack.sign_on(base.boot_ns) for pack in packs))
        base.beat(1 * S)
    return base, packs


def test_a_radio_that_stops_is_one_alarm_within_two_seconds(make: Any) -> None:
    base, packs = two_inside(make)
    assert announced(base) == []
    last_beat_ns = base.sequencer.horizon - 1 * S
    before = [w.air.pressure_bar for w in base.sequencer.incident.picture().wearers]
    base.beat(5 * 60 * S)
    ((kind, t),) = announced(base)
    assert kind == "receiver_down"
    # Its first missing beat was due a second after its last.
    assert t - (last_beat_ns + 1 * S) <= 2 * S
    after = [w.air.pressure_bar for w in base.sequencer.incident.picture().wearers]
    assert all(now < then for now, then in zip(after, before, strict=True))
    beat_of_radio(base)
    base.hear(*(pack.frame(base.boot_ns) for pack in packs))
    base.beat(10 * MS)
    assert receiver_is(base) == "returned, unacknowledged"
    assert announced(base) == []


def test_a_receiver_that_is_pulled_is_one_alarm_at_once(make: Any) -> None:
    base, packs = two_inside(make)
    gone = LinkState(link=1, name="udp", up=False, detail="gone")
    base.sequencer.link_state(gone, base.stamp, wire=False)
    pulled_ns = base.sequencer.horizon
    base.beat(5 * 60 * S)
    ((kind, t),) = announced(base)
    assert (kind, t - pulled_ns <= 250 * MS) == ("receiver_down", True)
    back = LinkState(link=1, name="udp", up=True)
    base.sequencer.link_state(back, base.stamp, wire=False)
    base.hear(*(pack.frame(base.boot_ns) for pack in packs))
    base.beat(10 * MS)
    assert receiver_is(base) == "returned, unacknowledged"
    assert announced(base) == []


def test_a_forged_beat_does_not_silence_a_link_that_packs_use_of_themselves(make: Any) -> None:
    base = make.base(packs=[101, 102])
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    packs = [make.pack(None, identity) for identity in (101, 102)]
    make.live(base, packs[0])
    packs[1].beacon = packs[0].beacon
    base.hear(*(pack.sign_on(base.boot_ns) for pack in packs))
    beat_of_radio(base)
    for _ in range(20):
        base.beat(5 * S)
        base.hear(packs[1].frame(base.boot_ns))
    assert base.facts("link_state")[-1].what.up
    assert "no_signal" in [kind for kind, _ in announced(base)]


def test_a_stall_of_the_recorder_is_no_missing_beat(base: Any) -> None:
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    base.hear(encode(Beat(radio=1, radio_ms=0, frames_heard=0), None))
    base.beat()
    base.wait(60 * S)
    base.commit()
    assert [f.what.up for f in base.facts("link_state")] == [True]


def test_bytes_but_no_frames_on_a_wire_are_said(base: Any) -> None:
    state = LinkState(link=2, name="serial", up=True)
    base.sequencer.link_state(state, base.stamp, wire=True)
    for _ in range(8):
        base.sequencer.heard([Chunk(2, base.stamp, None, b"\x07wrong speed\x00")], base.stamp)
        base.beat(1 * S)
    down = base.facts("link_state")[-1].what
    assert (down.link, down.up, down.detail) == (2, False, NO_FRAMES)


def test_of_a_line_that_is_gone_no_beat_is_missed_and_no_beacon_sent(base: Any) -> None:
    """Its port says all there is to say, until it is opened anew."""
    wire = LinkState(link=2, name="serial", up=True)
    base.sequencer.link_state(wire, base.stamp, wire=True)
    beat = wrap(encode(Beat(radio=1, radio_ms=0, frames_heard=0), None))
    base.sequencer.heard([Chunk(2, base.stamp, None, beat)], base.stamp)
    assert [send.link for send in base.beat(20 * MS).sends] == [2]
    gone = wire.model_copy(update={"up": False, "detail": "gone"})
    base.sequencer.link_state(gone, base.stamp, wire=True)
    base.beat(20 * S)
    assert [send for batch in base.batches[1:] for send in batch.sends] == []
    assert [(f.what.up, f.what.detail) for f in base.facts("link_state")] == [
        (True, ""), (False, "gone"),
    ]  # fmt: skip


def test_over_udp_nobody_gets_a_beacon_who_was_not_heard(base: Any) -> None:
    base.beat()
    base.sequencer.link_state(LinkState(link=1, name="udp", up=True), base.stamp, wire=False)
    assert base.sequencer.due_boot_ns() == base.boot_ns + 20 * MS
    base.beat(10 * S)
    assert [send for batch in base.batches for send in batch.sends] == []


def test_what_the_base_notices_of_itself_is_committed_at_once(base: Any) -> None:
    base.beat()
    base.sequencer.noticed(LinkState(link=1, name="udp", up=False), base.stamp)
    assert base.sequencer.due_boot_ns() == base.boot_ns + 20 * MS
    assert base.sequencer.take_sounds() != []


def test_what_the_system_kept_back_of_a_flood_is_told(base: Any) -> None:
    base.sequencer.turned_away(1, 70)
    base.beat(5 * S)
    (refused,) = base.facts("refused")
    assert (refused.what.link, sum(refused.what.counts.values())) == (1, 70)
