"""The board as it was, drawn for the trainee's page, of the golden journal."""

from xml.etree import ElementTree as ET

import shared
from monitor.cli.trainee_boards import WIDTH, boards
from monitor.report.score import Inject, Shown
from monitor.report.screen_picture import CELL_WIDE

S = 1_000_000_000
GOLDEN = shared.path("journals", "kiln-lane.journal")
FREE_FLOW = Inject("free flow", "loss_of_pressure", frozenset({4}), 20 * S)
CAUGHT = Inject("caught", "distress", frozenset({2}), 5 * S)


def words(drawn: str) -> str:
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    return " ".join(root.itertext())


def test_each_stands_at_its_own_instant_in_whatever_order_they_are_asked() -> None:
    """The scenario lets air flow at 56 s and has one caught at 105 s."""
    caught = Shown(CAUGHT, 105 * S, 1, 2 * S, None, "")
    found = boards(GOLDEN, [caught, Shown(FREE_FLOW, 56 * S, 1, None, None, "")])
    assert set(found) == {"free flow", "caught"}
    assert "LOSS OF PRESSURE" in words(found["free flow"])
    assert "DISTRESS" not in words(found["free flow"])
    assert "DISTRESS" in words(found["caught"])


def test_it_is_the_board_of_whoever_held_it() -> None:
    (drawn,) = boards(GOLDEN, [Shown(CAUGHT, 105 * S, 1, 2 * S, None, "")]).values()
    assert "VIEW ONLY" not in words(drawn)
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    assert (root.get("viewBox") or "").split()[2] == f"{WIDTH * CELL_WIDE:g}"
    assert "DISTRESS" in (root.get("aria-label") or "")
