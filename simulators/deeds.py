"""What a wearer does and what befalls them, each at its instant."""

from typing import Annotated, Literal

from pydantic import Field

from simulators.values import AtS, Celsius, ForS, Metres, Model, Share
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
    ]


class Breathe(_Deed):
    """Connect to air, at some level of work."""

    does: Literal["breathe"]
    work: Work = Work.REST


class SetWork(_Deed):
    """Work so hard from now on."""

    does: Literal["work"]
    work: Work


class Still(_Deed):
    """Not move for a while."""

    does: Literal["still"]
    for_s: ForS


class Shadow(_Deed):
    """The radio does worse for a while; without ``loss`` nothing gets through."""

    does: Literal["shadow"]
    for_s: ForS
    loss: Share = 1.0


class Go(_Deed):
    """Go so far from the base radio, evenly over a time; it matters where the radio has a range."""

    does: Literal["go"]
    distance_m: Metres
    over_s: AtS = 0


class Surroundings(_Deed):
    """Go where it is warmer or colder; the gas follows slowly."""

    does: Literal["surroundings"]
    celsius: Celsius


class Leak(_Deed):
    """Lose air beside what is breathed; 0 ends it."""

    does: Literal["leak"]
    l_min: Annotated[float, Field(ge=0, le=2000)]


Deed = Annotated[
    Simple | Breathe | SetWork | Still | Shadow | Go | Surroundings | Leak,
    Field(discriminator="does"),
]
