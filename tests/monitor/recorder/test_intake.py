"""Each gate a frame passes, and what it is counted or let through as."""

from binascii import crc_hqx
from typing import Any

import pytest

from monitor.checkpoint.recalled import PACKS_MAX
from monitor.clock import Stamp
from monitor.incident.events import EnrolAgain, Heard
from monitor.incident.rows import Standing
from monitor.links.chunk import Chunk
from monitor.recorder.intake import DISTRESS_ROWS_MAX, STRANGERS_A_SECOND, STRANGERS_BURST
from monitor.recorder.keyless import LostKeys
from protocol.codec import encode
from protocol.integrity import Keyring
from protocol.packets import Beat, Envelope, Motion, Receipt, ReceiptKind

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S
SOURCE = ("192.0.2.7", 5000)


@pytest.fixture
def keyring(make: Any) -> Any:
    return make.keyring()


@pytest.fixture
def pack(make: Any, keyring: Any) -> Any:
    return make.pack(keyring)


class Gate:
    """An intake, and the time."""

    def __init__(self, make: Any, keyring: Any) -> None:
        self.intake, self.beacons = make.parts(keyring)
        self.now_ns = BOOT_NS

    def take(self, frame: bytes) -> Heard | None:
        chunk = Chunk(1, Stamp(self.now_ns, 0), SOURCE, frame)
        found = self.intake.admit(chunk)
        return found[0][1] if found else None

    def standing(self, frame: bytes) -> str | None:
        heard = self.take(frame)
        return heard.standing.name if heard else None

    def beacon(self) -> int:
        self.beacons.due(self.now_ns)
        return int(self.beacons.recent._sent[-1][0])

    def counts(self) -> dict[str, int]:
        refused = self.intake.refusals.due(self.now_ns)
        return dict(refused[0].counts) if refused else {}


@pytest.fixture
def gate(make: Any, keyring: Any) -> Gate:
    return Gate(make, keyring)


def test_a_pack_is_live_once_it_answers_a_recent_beacon(gate: Gate, pack: Any) -> None:
    assert gate.standing(pack.frame(BOOT_NS)) == "NOT_PROVEN"
    pack.beacon = gate.beacon()
    assert gate.standing(pack.frame(BOOT_NS)) == "LIVE"
    pack.beacon = 0
    assert gate.standing(pack.frame(BOOT_NS)) == "LIVE"


def test_a_pack_that_answers_an_old_beacon_is_not_proven(gate: Gate, pack: Any) -> None:
    pack.beacon = gate.beacon()
    gate.now_ns += 60 * S + 1
    assert gate.standing(pack.frame(gate.now_ns)) == "NOT_PROVEN"


def test_with_its_keys_lost_a_base_hears_what_nobody_can_prove(
    make: Any, keyring: Any, pack: Any
) -> None:
    """Genuine or forged, answered or not: heard, and proven by nothing. Open frames stay out."""
    blind = Gate(make, LostKeys("exercise"))
    pack.beacon = blind.beacon()
    genuine = pack.frame(BOOT_NS)
    assert blind.standing(genuine) == "NOT_PROVEN"
    forged = bytearray(pack.frame(BOOT_NS + S))
    forged[-5] ^= 1
    forged[-2:] = crc_hqx(bytes(forged[:-2]), 0xFFFF).to_bytes(2, "big")
    assert blind.standing(bytes(forged)) == "NOT_PROVEN"
    assert Gate(make, keyring).standing(bytes(forged)) is None
    assert blind.standing(genuine) is None  # a copy
    assert blind.standing(make.pack(None).frame(BOOT_NS)) is None
    assert blind.counts()["NOT_KEYED"] == 1


def test_a_new_boot_must_prove_itself_anew(gate: Gate, pack: Any) -> None:
    pack.beacon = gate.beacon()
    gate.take(pack.frame(BOOT_NS))
    pack.boot, pack.sequence, pack.beacon = 4, 0, 0
    assert gate.standing(pack.frame(BOOT_NS)) == "NOT_PROVEN"


def test_a_copy_is_neither_let_through_nor_counted(gate: Gate, pack: Any) -> None:
    frame = pack.frame(BOOT_NS)
    assert gate.take(frame) is not None
    assert gate.take(frame) is None
    assert gate.counts() == {}


def test_a_repetition_is_counted(gate: Gate, pack: Any) -> None:
    frame = pack.frame(BOOT_NS)
    gate.take(frame)
    for _ in range(8):
        gate.take(pack.frame(BOOT_NS))
    assert gate.take(frame) is None
    assert gate.counts() == {"REPEATED": 1}


def test_a_frame_out_of_order_is_new(gate: Gate, pack: Any) -> None:
    first, second = pack.frame(BOOT_NS), pack.frame(BOOT_NS)
    assert gate.take(second) is not None
    assert gate.take(first) is not None


def test_a_boot_counter_that_goes_back_is_old_once_a_second(gate: Gate, pack: Any) -> None:
    gate.take(pack.frame(BOOT_NS))
    pack.boot = 2
    assert gate.standing(pack.frame(BOOT_NS)) == "OLD"
    assert gate.standing(pack.frame(BOOT_NS)) is None
    gate.now_ns += 1 * S
    assert gate.standing(pack.frame(BOOT_NS)) == "OLD"
    assert gate.counts() == {"BOOT_BACK": 3}


def test_two_packs_with_one_identity_are_seen_by_their_numbers(
    gate: Gate, pack: Any, make: Any, keyring: Any
) -> None:
    twin = make.pack(keyring)
    assert gate.standing(pack.frame(BOOT_NS)) == "NOT_PROVEN"
    assert gate.standing(twin.frame(BOOT_NS, pressure_dbar=900)) == "OLD"
    assert gate.counts() == {"TWIN": 1}


def test_a_pack_enrolled_again_begins_anew_and_proves_itself(gate: Gate, pack: Any) -> None:
    pack.beacon = gate.beacon()
    gate.take(pack.frame(BOOT_NS))
    gate.intake.enrol_again(101)
    pack.boot, pack.sequence, pack.beacon = 1, 0, 0
    assert gate.standing(pack.frame(BOOT_NS)) == "NOT_PROVEN"


def test_a_recording_of_before_does_not_undo_that_a_pack_was_enrolled_again(
    gate: Gate, pack: Any
) -> None:
    pack.boot, pack.beacon = 9, gate.beacon()
    for _ in range(3):
        gate.take(pack.frame(BOOT_NS))
    pack.sequence = 1
    recorded = pack.frame(BOOT_NS)
    gate.intake.enrol_again(101)
    gate.now_ns += 100 * S
    pack.boot, pack.sequence, pack.beacon = 2, 0, gate.beacon()
    assert gate.standing(pack.frame(gate.now_ns)) == "LIVE"
    assert gate.standing(recorded) == "OLD"
    assert gate.standing(pack.frame(gate.now_ns)) == "LIVE"
    # It starts anew until its counter is where it was: an answer to a beacon of now tells it apart.
    pack.boot, pack.sequence, pack.beacon = 9, 0, 0
    gate.now_ns += 10 * S
    assert gate.standing(pack.frame(gate.now_ns)) == "OLD"
    pack.beacon = gate.beacon()
    gate.now_ns += 1 * S
    assert gate.standing(pack.frame(gate.now_ns)) == "LIVE"


def test_another_set_enrolled_in_the_same_boot_is_not_taken_for_held_up(
    gate: Gate, pack: Any, make: Any, keyring: Any
) -> None:
    pack.beacon = gate.beacon()
    gate.take(pack.frame(BOOT_NS))
    # The same identity and boot number, switched on 100 s later.
    gate.now_ns += 200 * S
    other = make.pack(keyring)
    other.started_ns, other.beacon = BOOT_NS + 100 * S, gate.beacon()
    assert gate.standing(other.frame(gate.now_ns)) == "OLD_NOW"
    gate.intake.enrol_again(101)
    assert gate.standing(other.frame(gate.now_ns)) == "LIVE"


def test_a_frame_of_an_earlier_boot_that_comes_late_is_no_second_pack(
    gate: Gate, pack: Any
) -> None:
    """A slow gateway or a recorder brings, after a pack's restart, what it said just before.

    It answers with a recent beacon, but with one from before the restart: so it proves nothing of
    now, and must not stand as a second pack until an officer acts.
    """
    pack.beacon = gate.beacon()
    assert gate.standing(pack.frame(gate.now_ns)) == "LIVE"
    unheard = pack.frame(gate.now_ns + S)
    gate.now_ns += 2 * S
    pack.boot, pack.sequence, pack.beacon = 4, 0, 0
    pack.frame(gate.now_ns)
    assert gate.standing(pack.frame(gate.now_ns)) == "NOT_PROVEN"
    gate.now_ns += S
    assert gate.standing(unheard) == "OLD"
    pack.boot, pack.sequence, pack.beacon = 3, 20, 0
    gate.now_ns += 5 * S
    pack.beacon = gate.beacon()
    assert gate.standing(pack.frame(gate.now_ns)) == "OLD_NOW"


def test_a_call_for_help_in_old_numbers_waits_behind_no_row_of_before(
    gate: Gate, pack: Any
) -> None:
    gate.take(pack.frame(BOOT_NS))
    pack.boot = 2
    assert gate.standing(pack.frame(BOOT_NS)) == "OLD"
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) == "OLD"
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) is None


def test_a_recording_from_64_numbers_back_is_no_second_pack(gate: Gate, pack: Any) -> None:
    """At 1 Hz with some events it is under a minute old, and so is the beacon that it answers."""
    gate.take(pack.frame(gate.now_ns))
    gate.now_ns += 10 * S
    pack.beacon = gate.beacon()
    recorded = pack.frame(gate.now_ns)
    gate.take(recorded)
    gate.now_ns += 54 * S
    pack.beacon = gate.beacon()
    for _ in range(64):
        gate.take(pack.frame(gate.now_ns))
    assert gate.standing(recorded) == "OLD"


def test_recordings_do_not_keep_out_who_answers_to_now(gate: Gate, pack: Any) -> None:
    """Else whoever plays one a second keeps orders from a pack that has lost its counter."""
    gate.intake.remember(101, (9, 1, 1, b""))
    recorded = pack.frame(gate.now_ns)
    pack.beacon = gate.beacon()
    assert gate.standing(recorded) == "OLD"
    assert gate.standing(pack.frame(gate.now_ns)) == "OLD_NOW"
    assert gate.standing(pack.frame(gate.now_ns)) is None


def test_a_pack_that_nobody_else_answers_for_gets_a_beacon_though_its_numbers_went_back(
    gate: Gate, pack: Any
) -> None:
    """Else it could never be told from a recording."""
    gate.intake.remember(101, (9, 1, 1, b""))
    gate.beacons.due(gate.now_ns)
    assert gate.standing(pack.frame(BOOT_NS)) == "OLD"
    assert [send.address for send in gate.beacons.due(gate.now_ns)] == [SOURCE]


def test_old_frames_turn_no_beacon_away_from_a_pack_that_is_heard(gate: Gate, pack: Any) -> None:
    gate.take(pack.frame(BOOT_NS))
    gate.beacons.due(gate.now_ns)
    pack.boot = 2
    elsewhere = Chunk(1, Stamp(gate.now_ns, 0), ("198.51.100.9", 9), pack.frame(BOOT_NS))
    assert gate.intake.admit(elsewhere)[0][1].standing.name == "OLD"
    assert gate.beacons.due(gate.now_ns) == []


def test_who_plays_an_old_frame_is_not_where_packs_are_heard(gate: Gate, pack: Any) -> None:
    """It gets a beacon, but a flood from there is not taken for the packs' own."""
    gate.intake.remember(101, (9, 1, 1, b""))
    assert gate.standing(pack.frame(BOOT_NS)) == "OLD"
    assert gate.beacons.sources(1, (), 9) == set()
    pack.boot, pack.sequence = 10, 0
    assert gate.standing(pack.frame(BOOT_NS)) == "NOT_PROVEN"
    assert gate.beacons.sources(1, (), 9) == {SOURCE}
    gate.now_ns += 61 * S
    gate.beacons.due(gate.now_ns)
    assert gate.beacons.sources(1, (), 9) == set()


def test_a_frame_held_up_for_more_than_ten_seconds_is_not_the_present_state(
    gate: Gate, pack: Any
) -> None:
    pack.beacon = gate.beacon()
    gate.take(pack.frame(gate.now_ns))
    just, late = pack.frame(gate.now_ns + 1 * S), pack.frame(gate.now_ns + 1 * S)
    gate.now_ns += 11 * S
    assert gate.standing(just) == "LIVE"
    gate.now_ns += 10 * MS
    assert gate.standing(late) == "HELD"


def test_a_frame_with_another_tag_is_counted_as_forged(gate: Gate, pack: Any, make: Any) -> None:
    other = make.pack(Keyring({1: bytes(32)}, "exercise", 1))
    assert gate.take(other.frame(BOOT_NS)) is None
    assert gate.counts() == {"TAG": 1}


def test_a_real_use_base_refuses_exercise_keys(make: Any, pack: Any) -> None:
    real = Gate(make, Keyring({1: bytes(range(32))}, "real", 1))
    assert real.take(pack.frame(BOOT_NS)) is None
    assert real.counts() == {"TAG": 1}


def test_a_damaged_frame_is_counted_and_shown(gate: Gate, pack: Any) -> None:
    frame = bytearray(pack.frame(BOOT_NS))
    frame[20] ^= 1
    assert gate.take(bytes(frame)) is None
    (refused,) = gate.intake.refusals.due(BOOT_NS)
    assert refused.counts == {"CHECKSUM": 1}
    assert refused.samples == (bytes(frame).hex(),)


def test_an_open_frame_is_refused_at_a_keyed_base(gate: Gate, make: Any) -> None:
    assert gate.take(make.pack(None).frame(BOOT_NS)) is None
    assert gate.counts() == {"NOT_KEYED": 1}


def test_an_open_distress_at_a_keyed_base_is_shown_as_unproven(gate: Gate, make: Any) -> None:
    pack = make.pack(None)
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) == "UNPROVEN_DISTRESS"
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) is None
    gate.now_ns += 10 * S
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) == "UNPROVEN_DISTRESS"
    assert gate.counts() == {"NOT_KEYED": 3}


def test_made_up_identities_in_distress_do_not_fill_the_disk(gate: Gate, make: Any) -> None:
    frames = [make.pack(None, i).frame(BOOT_NS, distress=True) for i in range(1, 101)]
    let_through = [f for f in frames if gate.take(f) is not None]
    assert len(let_through) == DISTRESS_ROWS_MAX


def test_strangers_in_distress_crowd_out_nobody_on_the_board(gate: Gate, make: Any) -> None:
    gate.intake.joined = frozenset({101, 102})
    for identity in range(1, 101):
        gate.take(make.pack(None, identity).frame(BOOT_NS, distress=True))
    for identity in (101, 102):
        distress = make.pack(None, identity).frame(BOOT_NS, distress=True)
        assert gate.standing(distress) == "UNPROVEN_DISTRESS"


def test_the_same_frame_again_keeps_out_no_other_call_of_its_pack(gate: Gate, make: Any) -> None:
    """Shown once it says nothing new; who sends it ten times a second must not hide a new press."""
    pack = make.pack(None)
    gate.intake.joined = frozenset({101})
    recorded = pack.frame(BOOT_NS, distress=True)
    assert gate.standing(recorded) == "UNPROVEN_DISTRESS"
    for _ in range(100):
        gate.now_ns += S // 10
        gate.take(recorded)
    gate.now_ns += S // 10
    assert gate.standing(pack.frame(gate.now_ns, distress=True)) == "UNPROVEN_DISTRESS"


def test_who_lies_still_under_no_key_keeps_out_no_distress(gate: Gate, make: Any) -> None:
    """A motion alarm of somebody at the door raises nothing; a distress does."""
    pack = make.pack(None)
    gate.intake.joined = frozenset({101})
    assert gate.standing(pack.frame(BOOT_NS, motion=Motion.ALARM)) == "UNPROVEN_DISTRESS"
    assert gate.standing(pack.frame(BOOT_NS, distress=True)) == "UNPROVEN_DISTRESS"


def test_a_recorded_call_keeps_out_no_other_call_with_old_numbers(gate: Gate, pack: Any) -> None:
    """The one recorded, ten times a second; the other is of a set that lost its counter."""
    gate.take(pack.frame(BOOT_NS))
    pack.boot = 2
    recorded = [pack.frame(BOOT_NS, distress=True) for _ in range(3)]
    for turn in range(61):
        gate.now_ns += S // 10
        gate.take(recorded[turn % 3])
    gate.now_ns += S // 10
    assert gate.standing(pack.frame(gate.now_ns, distress=True)) == "OLD"


def test_an_envelope_is_taken_off_and_its_signal_kept(gate: Gate, pack: Any) -> None:
    inner = pack.frame(BOOT_NS)
    wrapped = encode(Envelope(radio=9, signal_dbm=-71, radio_ms=5, frame=inner), None)
    ((frame, heard),) = gate.intake.admit(Chunk(1, Stamp(BOOT_NS, 0), SOURCE, wrapped))
    assert frame == inner
    assert heard.signal_dbm == -71
    assert gate.take(inner) is None


def test_a_radios_own_beat_is_no_frame_of_a_pack(gate: Gate) -> None:
    assert gate.take(encode(Beat(radio=9, radio_ms=5, frames_heard=3), None)) is None
    assert gate.counts() == {}


def test_a_receipt_is_heard_like_a_report(gate: Gate, keyring: Any) -> None:
    receipt = Receipt(
        identity=101, boot=3, sequence=1, epoch=1, keyed=True, answer=ReceiptKind.COMING_OUT,
        order=0, uptime_ms=5, beacon_heard=gate.beacon(),
    )  # fmt: skip
    frame = encode(receipt, keyring.pack_key(101, 1, up=True))
    heard = gate.take(frame)
    assert heard is not None
    assert (heard.standing, heard.packet) == (Standing.LIVE, receipt)


def test_numbers_are_kept_for_the_next_incident(gate: Gate, pack: Any, make: Any) -> None:
    frames = [pack.frame(BOOT_NS) for _ in range(3)]
    for frame in frames:
        gate.take(frame)
    later = Gate(make, gate.intake._keyring)
    for identity, numbers in gate.intake.freshness().items():
        later.intake.remember(identity, numbers)
    assert [later.take(frame) for frame in frames] == [None] * 3
    assert later.counts() == {"REPEATED": 3}
    assert later.take(pack.frame(BOOT_NS)) is not None


def test_enrolling_again_is_an_act_of_the_officer(make: Any, keyring: Any, pack: Any) -> None:
    base = make.base(keyring)
    base.hear(pack.frame(BOOT_NS))
    pack.boot = 1
    base.hear(pack.frame(BOOT_NS))
    base.hold()
    base.ask(1, EnrolAgain(id="enrol-0001", by="R. Harrow", pack=101))
    base.hear(pack.frame(BOOT_NS))
    base.beat()
    assert base.standings() == ["NOT_PROVEN", "OLD", "NOT_PROVEN"]


def test_strangers_are_looked_at_by_a_budget_and_the_board_always(gate: Gate, make: Any) -> None:
    """Ten thousand made-up identities a second, and packs of ours between them."""
    strange = Keyring({1: bytes(32)}, "exercise", 1)
    gate.intake.joined = frozenset({101})
    flood = [make.pack(strange, identity).frame(BOOT_NS) for identity in range(5_000, 5_100)]
    gate.intake.allow_strangers(gate.now_ns)
    looked_at = 0
    for _ in range(200):
        for frame in flood[:50]:
            gate.take(frame)
        gate.now_ns += 5 * MS
        gate.intake.allow_strangers(gate.now_ns)
    counts = gate.counts()
    looked_at = counts["TAG"]
    assert looked_at + counts["BUSY"] == 10_000
    assert STRANGERS_BURST <= looked_at <= STRANGERS_BURST + STRANGERS_A_SECOND
    # Nothing is left for strangers; a pack that was never heard, but is on the board, is taken.
    gate.intake._keyring.strangers_left = 0
    assert gate.standing(make.pack(gate.intake._keyring, 102).frame(BOOT_NS)) is None
    assert gate.standing(make.pack(gate.intake._keyring, 101).frame(BOOT_NS)) == "NOT_PROVEN"


def test_who_comes_first(gate: Gate, pack: Any, make: Any) -> None:
    """Who is on the board, was remembered or has proven to be live; not who says so."""
    gate.intake.joined = frozenset({7})
    gate.intake.remember(8, (1, 1, 1, b""))
    gate.take(pack.frame(BOOT_NS))
    assert gate.intake.known == {bytes((0, 0, 0, 7)), bytes((0, 0, 0, 8))}
    pack.beacon = gate.beacon()
    gate.take(pack.frame(BOOT_NS))
    assert bytes((0, 0, 0, 101)) in gate.intake.known


def test_which_numbers_are_expected_of_whom_and_from_where(gate: Gate, pack: Any) -> None:
    """Of what was heard here; of what is remembered any, since nobody knows what came meanwhile."""
    whose, other = (101).to_bytes(4, "big"), (7).to_bytes(4, "big")
    gate.intake.remember(101, (pack.boot, 5, 1, b""))
    gate.intake.joined = frozenset({7})
    assert gate.intake.expected(1, 9, 9) == (set(), {other: None, whose: None})
    assert gate.intake.expected(1, 9, 1) == (set(), {other: None}), "those on the board first"
    pack.sequence = 5
    gate.take(pack.frame(BOOT_NS))
    assert gate.intake.expected(1, 9, 9) == ({SOURCE}, {other: None, whose: (pack.boot, 6)})
    assert gate.intake.expected(2, 9, 9) == (set(), {other: None, whose: (pack.boot, 6)})
    gate.intake.enrol_again(101)
    assert gate.intake.expected(1, 9, 9)[1][whose] is None


def test_more_packs_than_any_fleet_has_are_not_remembered(gate: Gate) -> None:
    for identity in range(1, PACKS_MAX + 2):
        gate.intake.remember(identity, (1, 1, 1, b""))
    kept = gate.intake.freshness()
    assert len(kept) == PACKS_MAX
    assert 1 not in kept


def test_packs_of_somebody_on_the_board_are_never_forgotten(gate: Gate) -> None:
    gate.intake.remember(7, (3, 500, 1, b""))
    gate.intake.joined = frozenset({7})
    for identity in range(1_000, 1_000 + 2 * PACKS_MAX):
        gate.intake.remember(identity, (1, 1, 1, b""))
    kept = gate.intake.freshness()
    assert len(kept) == PACKS_MAX
    assert kept[7][:2] == (3, 500)
