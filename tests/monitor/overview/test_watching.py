"""Doors that are watched: journals that grow, stand still, and are gone back with."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import shared
from monitor.clock import Clock
from monitor.errors import BadJournal
from monitor.journal.reader import JournalReader
from monitor.mirror.beside import Beside, write
from monitor.overview.doors import Hearing, Trust
from monitor.overview.watching import Doors, Watched

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000
POLLS_MAX = 100_000


class Hands(Clock):
    """A clock that is moved by hand; threads of followers read it too."""

    def __init__(self) -> None:
        super().__init__()
        self.boot = 1_000 * S
        self.wall = 0

    def boot_ns(self) -> int:
        return self.boot

    def wall_ns(self) -> int:
        return self.wall

    def on(self, ns: int) -> None:
        self.boot += ns
        self.wall += ns


@pytest.fixture
def clock() -> Hands:
    clock = Hands()
    with JournalReader(GOLDEN) as reader:
        clock.wall = reader.last_batch().wall_ns
    return clock


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    path = tmp_path / "replicas" / "Kiln_20works" / ("601d" * 8 + ".journal")
    path.parent.mkdir(parents=True)
    shutil.copyfile(GOLDEN, path)
    return path


def until(doors: Doors | Watched, there: Callable[[], bool]) -> None:
    for _ in range(POLLS_MAX):
        doors.poll()
        if there():
            return
    pytest.fail("nothing came")


def test_a_journal_that_stands_still_grows_old(clock: Hands, journal: Path) -> None:
    doors = Doors(clock, [journal], None)
    until(doors, lambda: doors.complete)
    (door,) = doors.doors()
    assert (door.number, door.trust, door.hearing) == (1, Trust.HERE, Hearing.NOW)
    assert door.falling is None
    clock.on(5 * S)
    (door,) = doors.doors()
    assert door.hearing is Hearing.OLD
    assert door.age_ns >= 5 * S
    assert door.falling is not None
    clock.on(6 * S)
    (door,) = doors.doors()
    assert door.hearing is Hearing.NOT_HEARD
    doors.close()


def test_estimates_fall_and_the_incident_itself_does_not_go_on(clock: Hands, journal: Path) -> None:
    one = Watched(journal, clock)
    until(one, lambda: one.complete)
    before = one.door()
    assert before is not None
    clock.on(60 * S)
    after = one.door()
    assert after is not None
    assert after.picture == before.picture
    assert after.falling is not None
    for now, then in zip(after.falling, before.picture.wearers, strict=True):
        assert now.state == then.state
        assert (now.air.pressure_bar or 0) <= (then.air.pressure_bar or 0)
    one.close()


def test_what_its_mirror_says_beside_it(clock: Hands, journal: Path) -> None:
    doors = Doors(clock, [], journal.parents[1])
    until(doors, lambda: doors.complete)
    for proof, trust in (
        ("keyed", Trust.PROVED),
        ("open", Trust.OPEN),
        ("unproved", Trust.UNPROVED),
    ):
        said = {"operation": "Kiln works", "incident": "601d" * 8, "proof": proof}
        write(journal, Beside.model_validate(said))
        doors.poll()
        (door,) = doors.doors()
        assert door.trust is trust
    write(journal, Beside.model_validate(said | {"fault": "commit 9: it does not fit"}))
    doors.poll()
    (door,) = doors.doors()
    assert (door.trust, door.fault) == (Trust.REFUSED, "commit 9: it does not fit")
    doors.close()


def test_a_replica_that_was_gone_back_with_is_folded_anew(clock: Hands, journal: Path) -> None:
    one = Watched(journal, clock)
    until(one, lambda: one.complete)
    before = one.door()
    said = {"operation": "", "incident": "601d" * 8, "proof": "open", "cut_back": 1}
    write(journal, Beside.model_validate(said))
    one.poll()
    until(one, lambda: one.complete)
    after = one.door()
    assert before is not None
    assert after is not None
    assert after.picture == before.picture
    one.close()


def test_doors_that_come_later_get_the_next_number(clock: Hands, journal: Path) -> None:
    doors = Doors(clock, [], journal.parents[1])
    until(doors, lambda: doors.complete)
    aside = journal.with_name(f"{journal.stem}.before-1.journal")
    shutil.copyfile(GOLDEN, aside)
    other = journal.with_name("0" * 32 + ".journal")
    other.write_bytes(b"")
    doors.look()
    assert [door.number for door in doors.doors()] == [1]
    shutil.copyfile(GOLDEN, other)
    doors.look()
    until(doors, lambda: doors.complete)
    assert [door.number for door in doors.doors()] == [1, 2]
    found = doors.watched(2)
    assert found is not None
    assert found.path == other
    assert doors.watched(3) is None
    doors.close()


def test_a_named_journal_that_is_none_is_told(clock: Hands, tmp_path: Path) -> None:
    with pytest.raises(BadJournal):
        Doors(clock, [tmp_path / "none.journal"], None)


def test_a_replica_that_is_damaged_is_not_to_be_trusted(clock: Hands, journal: Path) -> None:
    one = Watched(journal, clock)
    until(one, lambda: one.complete)
    assert one.door() is not None
    one.close()
    raw = bytearray(journal.read_bytes())
    raw[len(raw) // 3 : len(raw) // 2] = bytes(len(raw) // 2 - len(raw) // 3)
    journal.write_bytes(raw)
    broken = Watched(journal, clock)
    until(broken, lambda: broken.complete)
    door = broken.door()
    assert door is None or door.trust is Trust.REFUSED
    broken.close()
