"""The log of orders: each step with its time from the giving, and how long the whole took."""

from collections.abc import Callable
from datetime import UTC
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.orders.events import (
    AnswerByVoice,
    CloseOrder,
    EmergencyCrew,
    GiveOrder,
    OrdersSent,
    SentOrder,
)
from monitor.report import orders_log
from monitor.report.orders_log import COLUMNS, OrderLog, Tones
from monitor.report.reading import Told

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Tale

Tell = Callable[..., Told]
S = 1_000_000_000
ALL = {"order": "evacuate", "everybody": True, "scope": "everybody"}


@pytest.fixture
def evacuated(tale: "Tale") -> "Tale":
    """Given at 100 s: 1 answers by button and is out after 401 s, 2 has no pack that hears it."""
    for wearer in (1, 2):
        tale.person(wearer)
        tale.act(0, events.Connect, wearers=(wearer,))
        tale.act(0, events.Enter, wearers=(wearer,))
    tale.hear(1)
    tale.act(100, GiveOrder, **ALL, reason="roof", on_order_of="sector B")
    for t_s in (100, 102.5):
        tale.fact(t_s, OrdersSent(sent=(SentOrder(1, 101, 1),)))
    tale.hear(103, order_received=1)
    tale.hear(112.04, order_received=1, order_acknowledged=1)
    tale.hear(125, order_received=1, order_acknowledged=1, coming_out=True)
    tale.act(130, AnswerByVoice, order=1, wearers=(2,))
    tale.act(300, events.ComeOut, wearers=(2,))
    tale.act(501, events.ComeOut, wearers=(1,))
    return tale


def logs(
    tell: Tell, tale: "Tale", end_s: float = 600, tones: Tones | None = None
) -> list[OrderLog]:
    return list(orders_log.orders_log(tell(tale, end_s), tones))


def test_each_step_of_each_wearer(tell: Tell, evacuated: "Tale") -> None:
    (log,) = logs(tell, evacuated)
    assert (log.by, log.on_order_of, log.reason, log.scope) == (
        "R. Harrow", "sector B", "roof", "everybody",
    )  # fmt: skip
    one, two = log.lines
    assert one.sent_ns == (0, 2_500_000_000)
    assert (one.received_ns, one.acknowledged_ns, one.voice_ns) == (3 * S, 12_040_000_000, None)
    assert (one.back_ns, one.out_ns) == (25 * S, 401 * S)
    assert (two.sent_ns, two.received_ns, two.voice_ns, two.out_ns) == ((), None, 30 * S, 200 * S)


def test_all_out_after_six_minutes_and_forty_one_seconds(tell: Tell, evacuated: "Tale") -> None:
    (log,) = logs(tell, evacuated)
    assert log.whole == "all out after 6 min 41 s"


def test_as_text(tell: Tell, evacuated: "Tale") -> None:
    told = list(orders_log.text(tuple(logs(tell, evacuated)), UTC))
    # 100 s after 22:13:20.
    assert told[:5] == [
        "1  EVACUATE  everybody  2023-11-14 22:15:00  by R. Harrow",
        "   on the order of sector B",
        "   because roof",
        "   1 of 2 packs received, 1 acknowledged, 1 by voice, 2 out",
        "   all out after 6 min 41 s",
    ]
    assert [" ".join(line.split()) for line in told[5:8]] == [
        "wearer copies sent received button voice started out out tone",
        "Alpha 1 2 0.0 s 3.0 s 12.1 s - 25.0 s 6 min 41 s -",
        "Alpha 2 0 - - - 30.0 s - 3 min 20 s -",
    ]  # fmt: skip


def test_where_the_record_ends_before_the_order(tell: Tell, evacuated: "Tale") -> None:
    evacuated.rows = [row for row in evacuated.rows if row.t < 130 * S]
    (log,) = logs(tell, evacuated, 160)
    assert log.whole == "open, stands for 1 min 0 s"
    evacuated.act(140, AnswerByVoice, order=1, wearers=(2,))
    (log,) = logs(tell, evacuated, 160)
    assert log.whole == "all answered, stands for 1 min 0 s"
    evacuated.act(150, CloseOrder, order=1, override="told by voice")
    (log,) = logs(tell, evacuated, 160)
    assert log.whole == "closed after 50 s: told by voice"


def test_a_roll_call_and_a_committed_crew(tell: Tell, evacuated: "Tale") -> None:
    evacuated.rows = [row for row in evacuated.rows if row.t < 130 * S]
    evacuated.person(3, crew="Beta")
    evacuated.act(140, GiveOrder, order="roll call", everybody=True, scope="everybody")
    evacuated.act(150, AnswerByVoice, order=2, wearers=(1, 2))
    evacuated.act(151, EmergencyCrew, crew="Alpha", state="committed")
    out, roll = logs(tell, evacuated, 160)
    assert roll.whole == "all answered after 10 s"
    told = "\n".join(orders_log.text((out,), UTC))
    assert "0 of 0 packs received, 0 acknowledged, 0 by voice, 0 out, 2 committed" in told
    assert "Alpha 1 COMMITTED" in told


def test_no_order_is_said(tell: Tell, tale: "Tale") -> None:
    assert list(orders_log.text(tuple(logs(tell, tale)), UTC)) == ["No order was given."]


def test_a_tone_that_began_with_the_order(tell: Tell, evacuated: "Tale") -> None:
    heard = {101: ((101 * S, 113 * S), (50 * S, 60 * S)), 102: ()}
    (log,) = logs(tell, evacuated, tones=heard)
    assert [line.tone_ns for line in log.lines] == [((1 * S, 13 * S),), ()]
    assert "1.0 s to 13.0 s" in "\n".join(orders_log.text((log,), UTC))


def test_as_a_table_and_as_fields_nothing_is_rounded(tell: Tell, evacuated: "Tale") -> None:
    found = tuple(logs(tell, evacuated, tones={101: ((101 * S, 113 * S),)}))
    head, one, two = (
        dict(zip(COLUMNS, row, strict=True)) for row in orders_log.rows(found, "EXERCISE")
    )
    assert list(head.values()) == list(COLUMNS)
    assert (one["use"], one["order"], one["name"], one["telemetry"]) == (
        "EXERCISE", "1", "Alpha 1", "true",
    )  # fmt: skip
    assert (one["sent_ns"], one["acknowledged_ns"]) == ("0 2500000000", "12040000000")
    assert (one["tone_ns"], one["voice_ns"], two["voice_ns"]) == (
        "1000000000-13000000000", "", "30000000000",
    )  # fmt: skip
    (fields,) = orders_log.fields(found)
    assert fields["whole"] == "all out after 6 min 41 s"
    assert fields["stood_ns"] == 401 * S
