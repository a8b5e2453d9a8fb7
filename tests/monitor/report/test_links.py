from itertools import pairwise
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.rows import Standing
from monitor.report.alarm_lives import Spell
from monitor.report.links import SILENCES_MAX, Links, PackLink
from monitor.report.reading import Told
from protocol.codec import decode_trusted
from protocol.packets import Kind, Receipt, Report

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw, Tale

S = 1_000_000_000


def linked(tale: "Tale", end_s: float) -> Links:
    return tale.gathered(end_s).links


def test_a_silence_from_three_intervals_and_a_second_on(tale: "Tale") -> None:
    """3 x 5 s + 1 s = 16 s: a signal gap. 15.9 s are none."""
    for t in (10, 25.9, 41.9, 46.9):
        tale.hear(t)
    pack = linked(tale, 50).packs[101]
    assert pack.silences == [Spell(round(25.9 * S), round(41.9 * S))]
    assert (pack.silence_count, pack.silent_ns, pack.longest_ns) == (1, 16 * S, 16 * S)


def test_a_pack_that_signed_off_is_not_silent(tale: "Tale") -> None:
    tale.hear(10, kind=Kind.SIGN_OFF)
    tale.hear(500)
    assert linked(tale, 505).packs[101].silence_count == 0


def test_a_silence_that_goes_on_ends_with_the_record(tale: "Tale") -> None:
    tale.hear(10)
    assert linked(tale, 100).packs[101].silences == [Spell(10 * S, 100 * S)]


def test_the_interval_is_the_packs_own(tale: "Tale") -> None:
    """3 x 20 s + 1 s = 61 s."""
    tale.hear(10, interval_s=20)
    tale.hear(70, interval_s=20)
    assert linked(tale, 75).packs[101].silence_count == 0


def test_losses_are_what_is_missing_between_the_numbers(tale: "Tale") -> None:
    for t, number in ((10, 1), (15, 2), (30, 5), (35, 6)):
        tale.hear(t, sequence=number)
    account = linked(tale, 36).packs[101].account
    assert (account.taken, account.lost) == (4, 2)


def test_a_pack_enrolled_again_begins_a_new_account(tale: "Tale") -> None:
    """Its numbers begin anew, and what lies between is no loss."""
    tale.hear(10, sequence=50)
    tale.act(11, events.EnrolAgain, pack=101)
    tale.hear(12, sequence=1, boot=1)
    assert linked(tale, 13).packs[101].account.lost == 0


def test_the_weakest_signal_is_kept(tale: "Tale") -> None:
    for t, dbm in ((1, None), (2, -70), (3, -91), (4, -60)):
        tale.hear(t, signal_dbm=dbm)
    assert linked(tale, 5).packs[101].weakest_dbm == -91


def test_only_live_frames_count_as_heard(tale: "Tale") -> None:
    tale.hear(10)
    tale.rows[-1].standing = Standing.NOT_PROVEN
    found = linked(tale, 11)
    assert found.packs == {}
    assert found.frames == {Standing.NOT_PROVEN: 1}


def test_links_say_when_they_were_up_and_what_came(tale: "Tale") -> None:
    tale.fact(1, events.LinkState(link=1, name="udp 41900", up=True))
    tale.hear(2)
    tale.fact(3, events.LinkState(link=1, name="udp 41900", up=False, detail="gone"))
    (link,) = linked(tale, 4).links.values()
    assert link.changes == [(1 * S, True, ""), (3 * S, False, "gone")]
    assert link.frames == 1


def test_refused_frames_are_summed_by_reason(tale: "Tale") -> None:
    tale.fact(1, events.Refused(link=1, counts={"TAG": 2}))
    tale.fact(2, events.Refused(link=1, counts={"TAG": 3, "CHECKSUM": 1}))
    assert linked(tale, 3).refused == {"TAG": 5, "CHECKSUM": 1}


def test_of_many_silences_the_longest_stay() -> None:
    pack = PackLink(1, 0, 0)
    t = 0
    for number in range(SILENCES_MAX + 50):
        pack.last_ns, t = t, t + (100 + number) * S
        pack.silence(t)
    assert pack.silence_count == SILENCES_MAX + 50
    assert len(pack.silences) == SILENCES_MAX
    assert min(s.length_ns(0) for s in pack.silences) == 150 * S


def test_the_golden_journal_against_its_own_rows(golden: Told, raw: "Raw") -> None:
    """Frames of pack 301 by their row times and sequence numbers; its one boot."""
    heard: list[tuple[int, int]] = []
    for t, kind, data in raw.rows:
        packet = decode_trusted(data) if kind == 1 else None
        if isinstance(packet, Report | Receipt) and packet.identity == 301:
            heard.append((t, packet.sequence))
    last_number = max(number for _, number in heard)
    first_number = min(number for _, number in heard)
    pack = golden.gathered.links.packs[301]
    assert pack.account.taken == len(heard)
    assert pack.account.lost == last_number - first_number + 1 - len(heard)
    longest = max(b - a for (a, _), (b, _) in pairwise(heard))
    assert pack.longest_ns == longest


def test_a_late_frame_takes_its_loss_back(tale: "Tale") -> None:
    for t, number in enumerate((3, 5, 4), 1):
        tale.hear(t, sequence=number)
    assert linked(tale, 9).packs[101].account.lost == 0
