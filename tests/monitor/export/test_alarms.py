"""An alarm's life from its steps: raised, taken, put aside, cleared, reset, ended."""

from monitor.export.alarms import Alarms
from monitor.export.tables import ALARMS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Aside, Engine, Key
from monitor.incident.events import Note, PutAside, Reset
from monitor.incident.picture import Priority

NAMES = [column.name for column in ALARMS.columns]
OFFSET = 1_000_000
"""Wall clock at incident time 0."""


class Bench:
    """An engine whose steps go straight into the table."""

    def __init__(self) -> None:
        self.engine = Engine()
        self.engine.keep_steps()
        self.alarms = Alarms("EXERCISE")

    def flow(self) -> None:
        for step in self.engine.take_steps():
            self.alarms.step(step, OFFSET)

    def put(self, key: Key, t: int, *, condition: bool) -> None:
        self.engine.put(key, t, condition=condition)
        self.flow()

    def ended(self) -> list[dict[str, object]]:
        return [dict(zip(NAMES, row, strict=True)) for row in self.alarms.ended()]

    def standing(self) -> list[dict[str, object]]:
        return [dict(zip(NAMES, row, strict=True)) for row in self.alarms.standing()]


def test_a_latched_one_from_raising_to_reset() -> None:
    bench = Bench()
    bench.put(Key(Kind.DISTRESS, wearer=2), 100, condition=True)
    bench.engine.acknowledge(1, "R. Harrow", 120)
    bench.put(Key(Kind.DISTRESS, wearer=2), 150, condition=False)
    assert bench.ended() == []
    bench.engine.reset(1, 200)
    bench.flow()
    reset = Reset(id="reset-001", by="A. Quoin", alarm=1, reason="button by mistake")
    bench.alarms.act(200, reset, OFFSET)
    (row,) = bench.ended()
    assert row | {"to_do": ""} == {
        "use": "EXERCISE", "alarm": 1, "kind": "distress", "word": "distress",
        "priority": "danger", "wearers": "2", "pack": None, "link": None, "crew": None,
        "raised_ns": 100, "raised_clock": OFFSET + 100, "times_raised": 1, "times_waited": 1,
        "acknowledged_ns": 120, "acknowledged_clock": OFFSET + 120,
        "acknowledged_by": "R. Harrow", "cleared_ns": 150, "cleared_clock": OFFSET + 150,
        "times_put_aside": 0, "reset_ns": 200, "reset_clock": OFFSET + 200,
        "reset_by": "A. Quoin", "reason": "button by mistake", "ended_ns": 200,
        "ended_clock": OFFSET + 200, "state": "normal", "to_do": "",
    }  # fmt: skip
    assert row["to_do"]
    assert bench.ended() == []
    assert bench.standing() == []


def test_one_that_comes_again_before_it_was_taken() -> None:
    """Returned, not taken; raised again: one alarm, two conditions, not cleared."""
    bench = Bench()
    key = Key(Kind.NO_SIGNAL, wearer=5)
    for t, condition in ((10, True), (20, False), (30, True)):
        bench.put(key, t, condition=condition)
    rows = [*bench.ended(), *bench.standing()]
    last = rows[-1]
    assert last["raised_ns"] in {10, 30}
    assert last["cleared_ns"] is None
    assert last["state"] == "unacknowledged"
    assert sum(row["times_raised"] for row in rows) == 2  # type: ignore[misc]


def test_one_put_aside_keeps_the_reason() -> None:
    bench = Bench()
    bench.put(Key(Kind.BATTERY_LOW, wearer=3), 10, condition=True)
    bench.engine.put_aside(1, Aside(100, "R. Harrow", "spare at the door"), 20)
    bench.flow()
    aside = PutAside(id="aside-001", by="R. Harrow", alarm=1, minutes=5, reason="spare at the door")
    bench.alarms.act(20, aside, OFFSET)
    (row,) = bench.standing()
    assert (row["times_put_aside"], row["reason"], row["state"]) == (
        1, "spare at the door", "shelved",
    )  # fmt: skip
    assert (row["ended_ns"], row["acknowledged_by"]) == (None, None)


def test_one_of_the_base_a_link_a_pack_and_a_crew() -> None:
    bench = Bench()
    keys = (Key(Kind.DISK), Key(Kind.RECEIVER_DOWN, link=2), Key(Kind.DISTRESS, pack=9))
    for t, key in enumerate(keys):
        bench.put(key, t, condition=True)
    base, link, pack = bench.standing()
    assert (base["wearers"], base["link"], base["pack"]) == (None, None, None)
    assert (link["link"], pack["pack"]) == (2, 9)


def test_the_most_urgent_that_it_was() -> None:
    bench = Bench()
    key = Key(Kind.NO_SIGNAL, wearer=5)
    bench.put(key, 0, condition=True)
    bench.engine.put(key, 5, Priority.DANGER, condition=True)
    bench.flow()
    assert bench.standing()[0]["priority"] == "danger"


def test_acts_about_no_alarm_do_nothing() -> None:
    bench = Bench()
    bench.alarms.act(0, Note(id="note-0001", by="x", text="x"), OFFSET)
    bench.alarms.act(0, Reset(id="reset-001", by="x", alarm=9, reason="x"), OFFSET)
    assert bench.standing() == []
