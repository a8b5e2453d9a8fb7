"""Stories with orders in them: who is in, what goes to packs, what comes back."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.orders.events import AnswerByVoice, CloseOrder, EmergencyCrew, GiveOrder
from monitor.incident.orders.order import Outstanding
from monitor.incident.picture import OrderLineView, OrderView
from protocol.packets import ReceiptKind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000


class Orders:
    """The officer's side of a story."""

    def __init__(self, story: "Story") -> None:
        self.story = story

    def go_in(self, *wearers: int) -> None:
        """All of them, two a crew, with packs 101 and on."""
        for wearer in wearers:
            self.story.list_and_join(wearer, 100 + wearer, crew=f"Alpha {(wearer + 1) // 2}")
        self.story.enter(*wearers)

    def give(self, order: str = "evacuate", *wearers: int, **fields: Any) -> str | None:
        """For everybody, or for those named; at the present instant."""
        fields = {"everybody": not wearers, "wearers": wearers, "scope": "everybody", **fields}
        return self.story.act(self.story.now, GiveOrder, order=order, **fields)

    def voice(self, *wearers: int, order: int = 1) -> str | None:
        return self.story.act(self.story.now, AnswerByVoice, order=order, wearers=wearers)

    def close(self, order: int = 1, override: str = "") -> str | None:
        return self.story.act(self.story.now, CloseOrder, order=order, override=override)

    def emergency(self, crew: str, state: str) -> str | None:
        return self.story.act(self.story.now, EmergencyCrew, crew=crew, state=state)

    def out(self, *wearers: int) -> str | None:
        return self.story.act(self.story.now, events.ComeOut, wearers=wearers)

    def receipt(self, wearer: int, answer: ReceiptKind, order: int = 1) -> None:
        self.story.hear_receipt(self.story.now, 100 + wearer, answer, order)

    def view(self, number: int = 1) -> OrderView:
        return next(o for o in self.story.picture().orders if o.number == number)

    def line(self, wearer: int = 1, order: int = 1) -> OrderLineView:
        return next(line for line in self.view(order).lines if line.wearer == wearer)

    def sending(self) -> dict[int, Outstanding]:
        """What goes to each pack now."""
        return {one.pack: one for one in self.story.incident.outstanding()}


@pytest.fixture
def orders(story: "Story") -> Orders:
    return Orders(story)


@pytest.fixture(scope="session")
def orders_in() -> type[Orders]:
    """For a test with a story of its own."""
    return Orders
