"""The rules in force at an incident, as one frozen value.

A procedure is data: it is loaded from a file at the edge, written in full into the journal when
the incident opens, and handed to the fold. No threshold of the trade is written into code; the
defaults here are what a file that says nothing gets. ``monitor/PROCEDURES.md`` is the page for
whoever writes one.
"""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from monitor.incident.event_parts import Name, one_line

Word = Annotated[str, Field(min_length=1, max_length=24), AfterValidator(one_line)]
Sentence = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(one_line)]
Kind = Annotated[str, Field(min_length=1, max_length=20), AfterValidator(one_line)]
TASKS_MAX = 40
STAGES_MAX = 10
ALARM_TEXTS_MAX = 60
TO_DO_MAX = 74
"""Characters of what to do on an alarm: so many stand beside NEW on a screen of 80 columns."""
ToDo = Annotated[str, Field(min_length=1, max_length=TO_DO_MAX), AfterValidator(one_line)]

FormField = Literal["time", "name", "unit", "location", "task", "air", "mates", "resources"]
"""What the emergency form can be filled with; ``unit`` is the crew."""
_PLAIN_FORM: dict[FormField, Word] = {
    "name": "name",
    "unit": "crew",
    "location": "last place",
    "air": "air",
    "resources": "needs",
}


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Words(_Part):
    """What this service calls things on the screen; countries differ."""

    low_air_warning: Word = "low-air warning"
    """The set's own warning device."""
    turn_back: Word = "turn-back"
    crew: Word = "crew"
    crew_leader: Word = "crew leader"
    emergency_crew: Word = "emergency crew"
    tally: Word = "tally"
    officer: Word = "entry control officer"
    command: Word = "command"
    roll_call: Word = "roll call"


class TaskPrior(_Part):
    """What one kind of task is expected to take, before the wearer's own rate is known."""

    prior_l_min: float = Field(ge=20, le=150)
    prior_spread: float = Field(ge=0.05, le=1)
    source: Sentence


class Procedure(_Part):
    """One service's rules. ``sources`` says, for each value, where it comes from."""

    name: Annotated[str, Field(min_length=1, max_length=40), AfterValidator(one_line)]
    title: Annotated[str, Field(min_length=1, max_length=120), AfterValidator(one_line)]

    # ------------------------------------------------------------ units and words
    pressure_unit: Literal["bar", "psi"] = "bar"
    """What the gauges of this service read in. Values in the file are in bar all the same."""
    volume_unit: Literal["litre", "cubic foot"] = "litre"
    words: Words = Words()

    # ------------------------------------------------------------ low air
    low_air_bar: float | None = Field(default=None, ge=10, le=200)
    """Low-air value of a set that does not tell its own; goes before the fraction."""
    low_air_fraction: float | None = Field(default=None, ge=0.1, le=0.6)
    """The same as a fraction of rated pressure."""

    # ------------------------------------------------------------ planned times
    planning_rate_l_min: float = Field(default=50, ge=20, le=150)
    """Rate of the service's duration table."""
    margin_min: float | None = Field(default=None, ge=0, le=60)
    """Safety margin of that table as minutes; of the three forms at most one is given."""
    margin_bar: float | None = Field(default=None, ge=0, le=200)
    """Safety margin as a pressure left."""
    margin_fraction: float | None = Field(default=None, gt=0, le=0.6)
    """Safety margin as a fraction of rated pressure left."""
    gas_temperature_c: float = Field(ge=-20, le=60)
    """Taken for the gas where the pack does not tell; warmer is the safe side."""

    # ------------------------------------------------------------ turn-back
    turn_back_rule: Literal["none", "half", "double", "thirds", "fixed"] = "half"
    """Half of the usable air; double air for the way back; thirds; a fixed pressure."""
    turn_back_reserve_bar: float | None = Field(default=None, ge=0, le=200)
    """What must be left when they are out; not given: the low-air value."""
    turn_back_fixed_bar: float | None = Field(default=None, ge=10, le=400)
    turn_back_fixed_fraction: float | None = Field(default=None, ge=0.1, le=0.9)
    """Of rated pressure. The fixed rule has one of the two, the other rules have none."""
    withdrawal_start_s: float = Field(default=120, ge=10, le=1800)
    """From turn-back due until it is a danger that the way back has not begun."""

    # ------------------------------------------------------------ forecast
    prior_l_min: float = Field(default=60, ge=20, le=150)
    """Rate expected of a wearer of whom nothing is known yet."""
    prior_spread: float = Field(default=0.40, ge=0.05, le=1)
    """One standard deviation of that, as a fraction of it."""
    tasks: dict[Kind, TaskPrior] = Field(default_factory=dict, max_length=TASKS_MAX)
    """The same by kind of task; the first kind whose name the task's words contain."""
    projection_rate_l_min: float = Field(gt=0, le=300)
    """Rate at which a silent pack's air is taken to fall while nothing better is known."""

    # ------------------------------------------------------------ gauge and pack
    gauge_step_bar: float = Field(default=1, ge=0.1, le=20)
    """The smallest step in which packs report pressure."""
    reading_tolerance_bar: float = Field(default=10, ge=0, le=50)
    """Gauge and telemetry that differ by no more than this agree."""
    battery_low_percent: int = Field(default=20, ge=0, le=100)
    """At or under this a pack battery is called low."""
    least_fill_fraction: float | None = Field(default=0.9, ge=0.5, le=1)
    """Of rated pressure; a cylinder under it is not full. Not given: nobody looks."""

    # ------------------------------------------------------------ silence
    silence_limit_s: float = Field(ge=30, le=90)
    """The most silence before a wearer counts as out of signal, whatever the link's history."""
    pre_alarm_silence_s: float = Field(gt=0, le=60)
    """Silence after a motion pre-alarm that makes it a motion alarm."""
    spoken_reading_valid_s: float = Field(gt=0, le=3600)
    """How long a gauge reading by voice stands before the next is due."""

    # ------------------------------------------------------------ calls
    prompts: Literal["none", "thirds"] = "none"
    """Prompt crews at one third and two thirds of the expected time."""
    gauge_check_s: float | None = Field(default=None, ge=60, le=3600)
    """How often each crew is asked for its gauges; not given: never."""
    radio_check_s: float | None = Field(default=None, ge=60, le=3600)
    """How long a crew inside whose packs are heard may say nothing; not given: nobody asks."""
    roll_call_s: float | None = Field(default=None, ge=60, le=7200)
    """How often the roll is called; not given: only after an evacuation."""
    elapsed_time_s: float | None = Field(default=None, ge=60, le=7200)
    """How often the elapsed time is announced; not given: never."""
    order_acknowledge_s: float = Field(default=60, ge=5, le=600)
    """From sending an order until it is an alarm that a wearer has not answered."""
    order_out_s: float = Field(default=300, ge=30, le=3600)
    """From a wearer's answer until it is an alarm that they are not out."""

    # ------------------------------------------------------------ people
    least_crew: int = Field(default=2, ge=1, le=10)
    standby: int = Field(default=2, ge=0, le=20)
    """How many must stand by as emergency crew while anybody is in."""
    lone_entrant_allowed: bool = False
    attendant_required: bool = False
    """Somebody at the door who has no other duty."""
    permit_required: bool = False
    """No entry without a written permit."""
    most_wearers: dict[Kind, Annotated[int, Field(ge=1, le=10_000)]] = Field(
        default_factory=dict, max_length=STAGES_MAX
    )
    """The most under air on one board by stage; ``any`` is for stages not named."""
    least_rest_s: float = Field(default=0, ge=0, le=14_400)
    """Rest before a wearer goes again."""
    rest_after_wears: int = Field(default=1, ge=1, le=10)
    """After so many wears."""

    # ------------------------------------------------------------ texts
    emergency_form: dict[FormField, Word] = Field(default_factory=_PLAIN_FORM.copy, min_length=1)
    """Fields of the emergency message in order, each with its heading."""
    do: dict[Kind, ToDo] = Field(default_factory=dict, max_length=ALARM_TEXTS_MAX)
    """What to do on an alarm, by its kind, where this service has its own words."""

    sources: dict[Name, Sentence] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_form_of_each(self) -> Self:
        if self.low_air_bar is None and self.low_air_fraction is None:
            raise ValueError("low_air_bar or low_air_fraction is needed")
        if _given(self.margin_min, self.margin_bar, self.margin_fraction) > 1:
            raise ValueError("only one of margin_min, margin_bar and margin_fraction")
        fixed = _given(self.turn_back_fixed_bar, self.turn_back_fixed_fraction)
        if fixed != (self.turn_back_rule == "fixed"):
            raise ValueError(
                "turn_back_rule fixed, and it alone, has one of turn_back_fixed_bar and"
                " turn_back_fixed_fraction"
            )
        return self

    @property
    def least_inside(self) -> int:
        """How many of a crew must be inside together, if any are."""
        return 1 if self.lone_entrant_allowed else self.least_crew

    def low_air_of(self, rated_bar: float | None) -> float | None:
        """Low-air value in bar of a set that does not tell its own; None if nothing says."""
        if self.low_air_bar is not None:
            return self.low_air_bar
        if self.low_air_fraction is None or rated_bar is None:
            return None
        return self.low_air_fraction * rated_bar

    def prior_of(self, task: str) -> tuple[float, float]:
        """Rate in L/min and its spread as a fraction, expected for a task in these words."""
        words = task.casefold()
        for kind, prior in self.tasks.items():
            if kind.casefold() in words:
                return prior.prior_l_min, prior.prior_spread
        return self.prior_l_min, self.prior_spread

    def most_wearers_at(self, stage: str) -> int | None:
        """The most under air on one board at this stage; None: no limit given."""
        return self.most_wearers.get(stage.strip(), self.most_wearers.get("any"))


def _given(*values: float | None) -> int:
    return sum(value is not None for value in values)
