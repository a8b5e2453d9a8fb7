"""What an officer does with orders, and what the base notes of sending them.

A roll call is an order like the others: it goes to packs, is answered by button or by voice, and
stays open until everybody has answered.
"""

from typing import Annotated, Literal, NamedTuple, Self

from pydantic import Field, model_validator

from monitor.incident.event_parts import (
    WEARERS_MAX,
    EventModel,
    Identity,
    OfficersAct,
    ShortName,
    Text,
    WearerNumber,
)

SENT_MAX = 1_000
"""Orders in one such fact; a batch sends far fewer."""

OrderName = Literal["evacuate", "come out", "roll call", "test"]
"""``evacuate``: emergency; ``come out``: routine; ``roll call``: answer that you are there;
``test``: does an order reach this pack?"""
OrderNumber = Annotated[int, Field(ge=1)]
"""Of this incident, from 1, in the order of giving; what acts and screens name it by. It has
nothing to do with the number on the air, which is each pack's own."""
_Wearers = Annotated[tuple[WearerNumber, ...], Field(max_length=WEARERS_MAX)]


class GiveOrder(OfficersAct):
    """Give an order. It goes to the pack of each wearer covered, until received and answered.

    ``everybody``: all who are under air at this moment (of a roll call also those whom an
    evacuation has brought out since the last one); then ``wearers`` is empty. Else ``wearers``
    names them; those of them who are not inside are passed over. Empty never means all.
    """

    what: Literal["give_order"] = "give_order"
    order: OrderName
    wearers: _Wearers = ()
    everybody: bool = False
    scope: Annotated[Text, Field(min_length=1)]
    """Whom it covers, in words: "everybody", "crew Alpha 2", "Alpha 2-1"."""
    reason: Text = ""
    on_order_of: Text = ""
    """Who gave it, if it was given elsewhere and is passed on here."""

    @model_validator(mode="after")
    def _all_or_some(self) -> Self:
        if self.everybody is bool(self.wearers):
            raise ValueError("either everybody, or wearers")
        return self


class AnswerByVoice(OfficersAct):
    """These wearers have answered an order by voice; in a roll call: they are there."""

    what: Literal["answer_by_voice"] = "answer_by_voice"
    order: OrderNumber
    wearers: Annotated[_Wearers, Field(min_length=1)]


class CloseOrder(OfficersAct):
    """End an order. With somebody unanswered, or still in, only if ``override`` says why."""

    what: Literal["close_order"] = "close_order"
    order: OrderNumber
    override: Text = ""


class EmergencyCrew(OfficersAct):
    """A crew is ready as emergency crew, is sent in as such, or is one no more."""

    what: Literal["emergency_crew"] = "emergency_crew"
    crew: Annotated[ShortName, Field(min_length=1)]
    state: Literal["ready", "committed", "stood down"]


class SentOrder(NamedTuple):
    """One copy of one order that went out to one pack, over however many ways at once."""

    order: Annotated[int, Field(ge=0)]
    """Number of the order in this incident; 0: a confirmation that belongs to none."""
    pack: Identity
    number: Annotated[int, Field(ge=1, le=0xFFFF)]
    """On the air."""


class OrdersSent(EventModel):
    """What was sent since the last such fact."""

    what: Literal["orders_sent"] = "orders_sent"
    sent: Annotated[tuple[SentOrder, ...], Field(max_length=SENT_MAX)]
