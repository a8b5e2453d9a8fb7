"""What goes wrong: on a time line, or once something is so.

An inject is a deed that befalls some wearers, or trouble that befalls more than one pack. It has a
name, by which the score and the truth file know it, and says which alarm the board must show of it.
"""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from protocol.packets import OrderKind
from simulators.deeds import Deed
from simulators.values import AtS, ForS, GaugeBar, Identity, Model, PlaceName, Share, WearerNumber

WEARERS_MAX = 1_000
BASE_NUMBER_MAX = 8
AlarmName = Annotated[str, Field(pattern="^[a-z_]{1,40}$")]
"""Kind of an alarm, as the journal has it."""
PoolName = Annotated[str, Field(min_length=1, max_length=60)]
InjectName = Annotated[str, Field(min_length=1, max_length=60)]


OrderName = Literal["evacuate", "come out", "roll call", "test"]
ORDERS: dict[OrderName, OrderKind] = {
    "evacuate": OrderKind.EVACUATE,
    "come out": OrderKind.COME_OUT,
    "roll call": OrderKind.ROLL_CALL,
    "test": OrderKind.TEST,
}


class FloorShadow(Model):
    """Whoever is on a floor, or everybody, is in a radio shadow for a while."""

    does: Literal["floor_shadow"]
    floor: Annotated[int, Field(ge=-200, le=200)] | None = None
    for_s: ForS
    loss: Share = 1.0


class ReceiverPulled(Model):
    """A base radio is off the line: nothing comes from it, nothing goes out by it."""

    does: Literal["receiver_pulled"]
    base: Annotated[int, Field(ge=1, le=BASE_NUMBER_MAX)] = 1
    for_s: ForS


class SameNumber(Model):
    """Another pack with the number of one that is there is switched on near the door."""

    does: Literal["same_number"]
    pack: Identity
    boot: Annotated[int, Field(ge=1, le=1_000_000)] = 1
    foreign: bool = False
    """It has the key of another service; else ours, as after a repair."""
    for_s: ForS = 120.0


class ForgedOrder(Model):
    """Somebody who has no key sends packs an order; or sends again what the base has sent."""

    does: Literal["forged_order"]
    order: OrderName = "evacuate"
    replayed: bool = False


Trouble = FloorShadow | ReceiverPulled | SameNumber | ForgedOrder


def _at_once(given: object) -> object:
    """Read the deed of an inject: its time stands beside it."""
    if not isinstance(given, dict):
        return given
    if given.get("at_s", 0) != 0:
        raise ValueError("its time stands beside it")
    return given | ({} if given.get("does") in _TROUBLE else {"at_s": 0})


_TROUBLE = ("floor_shadow", "receiver_pulled", "same_number", "forged_order")
What = Annotated[Deed | Trouble, Field(discriminator="does"), BeforeValidator(_at_once)]


class When(Model):
    """What must be so of one wearer; exactly one of the three."""

    wearer: WearerNumber
    under_bar: GaugeBar | None = None
    """Under air with less than this, whatever the pack tells."""
    at: PlaceName | None = None
    """Arrived there."""
    ordered: OrderName | None = None
    """The pack has received such an order."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        """Refuse two conditions, or none."""
        if sum(one is not None for one in (self.under_bar, self.at, self.ordered)) != 1:
            raise ValueError("when needs one of under_bar, at and ordered")
        return self


class Inject(Model):
    """One thing that goes wrong, once."""

    name: InjectName
    at_s: AtS | None = None
    when: When | None = None
    after_s: AtS = 0.0
    """So long after ``when`` came true."""
    window_s: AtS = 0.0
    """It comes at random, up to so much later than that."""
    pool: PoolName | None = None
    """One of several, of which so many come as the pool takes."""
    wearers: Annotated[tuple[WearerNumber, ...], Field(max_length=WEARERS_MAX)] = ()
    """Whom the deed befalls, or whose packs get the forged order."""
    deed: What
    shows: AlarmName | None = None
    """The alarm by which the board must show it; not given: it need not show."""
    shows_for: Annotated[tuple[WearerNumber, ...], Field(max_length=WEARERS_MAX)] = ()
    """Of whom; not given: of the wearers it befalls, else of nobody in particular."""
    shows_within_s: ForS = 60.0

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """Refuse an inject without its time or its wearers."""
        if (self.at_s is None) == (self.when is None):
            raise ValueError("an inject needs either at_s or when")
        of_nobody = isinstance(self.deed, FloorShadow | ReceiverPulled | SameNumber)
        if of_nobody and self.wearers:
            raise ValueError(f"{self.deed.does} takes no wearers")
        if not of_nobody and not self.wearers:
            raise ValueError(f"{self.deed.does} needs wearers")
        return self
