from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.report.reading import Told
from protocol.codec import decode_trusted
from protocol.packets import Receipt, Report

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Raw, Tale

Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]


def test_packs_of_the_golden_journal(golden_page: "PageRead", raw: "Raw") -> None:
    """Losses by the numbers in the rows themselves."""
    numbers: dict[int, list[int]] = {}
    for _, kind, data in raw.rows:
        packet = decode_trusted(data) if kind == 1 else None
        if isinstance(packet, Report | Receipt):
            numbers.setdefault(packet.identity, []).append(packet.sequence)
    rows = {row["pack"]: row for row in golden_page.table("Packs")}
    assert set(rows) == {str(pack) for pack in numbers}
    for pack in (101, 202, 301):
        seen = numbers[pack]
        lost = max(seen) - min(seen) + 1 - len(seen)
        assert (rows[str(pack)]["frames taken"], rows[str(pack)]["lost"]) == (
            str(len(seen)),
            str(lost),
        )
        share = float(rows[str(pack)]["share lost"].removesuffix(" %"))
        assert 0 <= share - 100 * lost / (lost + len(seen)) < 0.1
    assert rows["301"]["worn by"] == "Alpha 3-1"


def test_links_and_what_was_not_heard(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.fact(1, events.LinkState(link=1, name="udp 41900", up=True))
    tale.hear(5, 9)
    tale.fact(10, events.LinkState(link=1, name="udp 41900", up=False, detail="gone"))
    tale.fact(30, events.LinkState(link=1, name="udp 41900", up=True))
    tale.fact(31, events.Refused(link=1, counts={"NOT_KEYED": 3}))
    tale.fact(40, events.LinkState(link=1, name="udp 41900", up=False))
    tale.fact(41, events.Stall(from_ns=40_000_000_000, to_ns=41_000_000_000))
    page = read_page(tell(tale, 50))
    (link,) = page.table("Links of the base")
    assert link["frames let through"] == "1"
    assert "22:13:30 down (gone)" in link["up and down"]
    assert page.table("Frames not let through") == [{"why": "not keyed", "frames": "3"}]
    assert page.table("When nobody listened") == [
        {"what": "the base stood still", "how long": "1 s"},
        {"what": "link udp 41900 was down", "how long": "30 s"},
    ]
    assert page.table("Packs")[0]["worn by"] == "nobody on the board"


def test_breaks_of_the_recorder(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.fact(5, events.Resumed(down_ns=60_000_000_000, known_by="unknown", wall_ns=1))
    rows = read_page(tell(tale, 70)).table("When nobody listened")
    assert rows == [
        {"what": "no recorder ran", "how long": "1 min 0 s"},
        {"what": "breaks of unknown length", "how long": "1"},
    ]
