"""What a wearer does and what befalls them, each at its instant."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from simulators.populations import TaskName
from simulators.values import AtS, Celsius, ForS, GaugeBar, Metres, Model, PlaceName, Share
from simulators.wearer import Work


class _Deed(Model):
    at_s: AtS


class Simple(_Deed):
    """A deed that says it all by its name."""

    does: Literal[
        "switch_on",  # the pack's electronics: it signs on
        "off_air",  # no longer breathes from the set
        "switch_off",  # the pack signs off in order
        "collapse",  # stops moving for good
        "move",  # moves again
        "reset_motion",  # sets the pack's motion alarm back, by hand
        "distress",  # presses the distress button
        "distress_off",  # sets it back
        "coming_out",  # says so with the button
        "leave",  # says so, and takes the way out, as after an order
        "battery_dead",  # the pack is silent, without a word
        "gauge_stuck",  # the pack tells the same pressure from now on
        "gauge_free",  # it tells the true one again
    ]


class Breathe(_Deed):
    """Connect to air, at some level of work."""

    does: Literal["breathe"]
    work: Work = Work.REST


class SetWork(_Deed):
    """Work so hard from now on."""

    does: Literal["work"]
    work: Work


class Task(_Deed):
    """Work at something where hard and light spells follow one another at random."""

    does: Literal["task"]
    kind: TaskName


class Still(_Deed):
    """Not move for a while."""

    does: Literal["still"]
    for_s: ForS


class Shadow(_Deed):
    """The radio does worse for a while; without ``loss`` nothing gets through.

    ``up`` alone: the pack hears but is not heard; ``down`` alone: it is heard but does not hear.
    """

    does: Literal["shadow"]
    for_s: ForS
    loss: Share = 1.0
    way: Literal["both", "up", "down"] = "both"


class Go(_Deed):
    """Go to a place, or so far from where distances begin, evenly over a time.

    On the way to a place one walks or climbs, and there begins with the place's task, if it has
    one. Who lies still is carried.
    """

    does: Literal["go"]
    to: PlaceName | None = None
    distance_m: Metres | None = None
    over_s: AtS | None = None
    """Not given: at the pace of a search."""

    @model_validator(mode="after")
    def _somewhere(self) -> Self:
        """Refuse two goals, or none."""
        if (self.to is None) == (self.distance_m is None):
            raise ValueError("go needs either to or distance_m")
        return self


class Surroundings(_Deed):
    """Go where it is warmer or colder; the gas follows slowly."""

    does: Literal["surroundings"]
    celsius: Celsius


class Leak(_Deed):
    """Lose air beside what is breathed; 0 ends it."""

    does: Literal["leak"]
    l_min: Annotated[float, Field(ge=0, le=2000)]


class NewCylinder(_Deed):
    """Change the cylinder for another of the same size; only off air."""

    does: Literal["new_cylinder"]
    fill_bar: GaugeBar


class Reboot(_Deed):
    """The pack falls silent without a word and starts anew: it has forgotten everything."""

    does: Literal["reboot"]
    off_s: ForS = 4.0


Deed = Annotated[
    Simple | Breathe | SetWork | Task | Still | Shadow | Go | Surroundings | Leak | NewCylinder
    | Reboot,
    Field(discriminator="does"),
]  # fmt: skip
