"""``outby air``: the sums of the board without an incident, as a calculator."""

import argparse
import math
import re
from typing import TYPE_CHECKING, TypeVar

from monitor.cli.options import Subparsers, add_command, add_format, settings_of
from monitor.errors import Exit

_T = TypeVar("_T")

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from monitor.cli.air_sheet import Asked
    from monitor.cylinders import Rack
    from monitor.incident.air.shown import Cylinder
    from monitor.incident.procedure import Procedure

WEARERS_MAX = 20
"""More than go in as one crew."""
COLDEST_C, WARMEST_C = -20.0, 60.0
"""Between these the contents are right to 0.2 %."""
SLOWEST_L_MIN, FASTEST_L_MIN = 5.0, 300.0
OVERFILL = 1.1
"""No gauge shows more than so much of the rated pressure; it is the other unit, or a slip."""
VOLUMES_L = (0.5, 30.0)
"""Of what is worn."""
BANK_L = (0.5, 400.0)
"""Of one cylinder that feeds an airline: from a small one to a quad."""
RATED_BAR = (50.0, 450.0)
PSI_MAX = 7000
EDGE = 1e-6
SMALL = 10
"""Bounds below this are said as they are, larger ones as whole numbers."""

_DESCRIPTION = """\
What a cylinder holds, how long it lasts and where to turn back, by the rules of a procedure: the
sums of the board, without an incident. Contents and times stand twice, by real gas and as on a
printed table (pressure x water volume); each figure has its rule in words.

For a crew give several pressures; one cylinder then counts for all of them, or give as many. With
pressures at the objective the way in is known, and turn-back is reckoned from it.

Nothing that is left is ever rounded up, and no pressure to turn at down. It plans; the wearer's
own gauge and warning device come first.

With --airline the cylinders feed a line together, for so many wearers: contents and times are of
all cylinders, and no pressure to turn at is given, since the way back is not on their gauge. The
escape cylinder that each wearer carries is reckoned by itself.

CYLINDER is a name that is known (6.8/300, 45/4500), or water volume and rated pressure in the
gauge's unit (7/232). Pressures are in the unit of the procedure's gauges, unless --gauge says
otherwise."""

_EXAMPLES = (
    ("outby air --cylinder 6.8/300 --connected 23:40", "a full one, by the plain procedure"),
    (
        "outby air --cylinder 9/300 --pressure 280 --procedure fwdv7 --objective 240",
        "double air for the way back",
    ),
    (
        "outby air --cylinder 6.8/300 9/300 --pressure 290 295 --objective 246 268 --low-air 60",
        "a crew with mixed cylinders: who turns it, and where",
    ),
    ("outby air --cylinder 50/200 50/200 --airline 2", "two wearers on a line from two cylinders"),
    ("outby air --cylinder 45/4500 --procedure us-psi --json", "as fields for a program"),
)


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "air",
        run=run,
        summary="contents, times and turn-back of a cylinder, without an incident",
        description=_DESCRIPTION,
        exits=(Exit.FILE,),
        examples=_EXAMPLES,
    )
    group = parser.add_argument_group("CYLINDERS")
    group.add_argument("--cylinder", dest="kinds", nargs="+", required=True, metavar="CYLINDER",
                       help="what they wear")  # fmt: skip
    group.add_argument("--pressure", nargs="+", type=float, metavar="P",
                       help="at connecting; left out: rated pressure")  # fmt: skip
    group.add_argument("--objective", nargs="+", type=float, metavar="P",
                       help="at the objective, once it is reached")  # fmt: skip
    group.add_argument("--low-air", type=float, metavar="P",
                       help="where the set's warning sounds; else by procedure")  # fmt: skip
    group.add_argument("--airline", type=int, metavar="WEARERS",
                       help="the cylinders feed a line, for so many")  # fmt: skip
    group.add_argument("--cylinders", metavar="FILE", help="cylinders of your own, by name")
    rules = parser.add_argument_group("RULES")
    rules.add_argument("--procedure", metavar="NAME|FILE", help="left out: the setting, or plain")
    rules.add_argument("--rate", type=float, metavar="L/MIN",
                       help="left out: the procedure's planning rate")  # fmt: skip
    rules.add_argument("--temperature", type=float, metavar="C",
                       help="of the gas; left out: by the procedure")  # fmt: skip
    rules.add_argument("--gauge", choices=("bar", "psi"), help="left out: by the procedure")
    shown = parser.add_argument_group("OUTPUT")
    shown.add_argument("--connected", metavar="HH:MM", help="give times of day too")
    add_format(shown, ("text", "json"), "fields, as README.md has them")


def run(args: argparse.Namespace) -> int:
    """Print the sums. BadUsage, BadFile."""
    from monitor import cylinders, procedures
    from monitor.cli.air_sheet import Question, fields, text
    from shared.printable import as_json

    settings = settings_of(args)
    rules = _rules(procedures.load(settings.procedure or "plain"), args)
    unit = args.gauge or rules.pressure_unit
    rack = cylinders.load(settings.cylinders)
    wearers = _wearers(args, rules, unit, rack)
    on_line = args.airline
    if on_line is not None:
        rules, wearers = _line(on_line, rules, wearers, args)
    question = Question(rules, unit, _seconds(args.connected), wearers, on_line)
    if args.format == "json":
        print(as_json(fields(question)))
    else:
        print(text(question))
    return Exit.OK


def _rules(rules: "Procedure", args: argparse.Namespace) -> "Procedure":
    """Put rate and temperature in their place in the procedure."""
    rate = rules.planning_rate_l_min if args.rate is None else args.rate
    temperature = rules.gas_temperature_c if args.temperature is None else args.temperature
    _check("--rate", rate, SLOWEST_L_MIN, FASTEST_L_MIN, "L/min")
    _check("--temperature", temperature, COLDEST_C, WARMEST_C, "C")
    return rules.model_copy(update={"planning_rate_l_min": rate, "gas_temperature_c": temperature})


def _wearers(
    args: argparse.Namespace, rules: "Procedure", unit: str, rack: "Rack"
) -> tuple["Asked", ...]:
    """Bring together what was given once for all or once for each."""
    from monitor.cli.air_sheet import Asked
    from monitor.errors import BadUsage
    from monitor.incident import units

    number = max(len(args.kinds), len(args.pressure or ()), len(args.objective or ()))
    if number > WEARERS_MAX:
        raise BadUsage(f"{number} wearers", to_do=f"at most {WEARERS_MAX} at once")
    kinds = _each("--cylinder", args.kinds, number)
    found = []
    cylinders = [_cylinder(kind, args, rules, unit, rack) for kind in kinds]
    rated = [units.pressure(cylinder.rated_bar or 0.0, unit) for _, cylinder in cylinders]
    highest = units.pressure(units.READING_MAX_BAR, unit)
    pressures = _each("--pressure", args.pressure or rated, number)
    objectives = _each("--objective", args.objective or [None], number)
    for (name, cylinder), most, start, objective in zip(
        cylinders, rated, pressures, objectives, strict=True
    ):
        _check("--pressure", start, 0, min(most * OVERFILL, highest), unit)
        if objective is not None:
            _check("--objective", objective, 0, start, unit)
            objective = units.bar_from(objective, unit)  # noqa: PLW2901 - its unit alone changes
        found.append(Asked(name, cylinder, units.bar_from(start, unit), objective))
    return tuple(found)


def _line(
    wearers: int, rules: "Procedure", bank: "tuple[Asked, ...]", args: argparse.Namespace
) -> "tuple[Procedure, tuple[Asked, ...]]":
    """Make one of the cylinders that feed a line, for wearers who breathe from it together.

    The least pressure counts for all: they even out. BadUsage.
    """
    from dataclasses import replace

    from monitor.cli.air_sheet import Asked
    from monitor.errors import BadUsage

    if not 1 <= wearers <= WEARERS_MAX:
        raise BadUsage(f"{wearers} wearers on a line", "--airline", f"1 to {WEARERS_MAX}")
    if args.objective is not None:
        raise BadUsage("a line has no pressure at the objective", "--objective", "leave it out")
    if len({one.cylinder.rated_bar for one in bank}) > 1:
        raise BadUsage("cylinders of different rated pressure on one line", "--cylinder",
                       "give those of one rated pressure")  # fmt: skip
    first = bank[0]
    litres = sum(one.cylinder.water_volume_l or 0.0 for one in bank)
    start = min(one.start_bar for one in bank)
    name = " + ".join(one.name for one in bank)
    cylinder = replace(first.cylinder, water_volume_l=litres)
    rate = rules.planning_rate_l_min * wearers
    rules = rules.model_copy(update={"planning_rate_l_min": rate, "turn_back_rule": "none"})
    return rules, (Asked(name, cylinder, start, None),)


def _each(option: str, values: "Sequence[_T]", number: int) -> "list[_T]":
    """One for each wearer; one alone counts for all. BadUsage."""
    from monitor.errors import BadUsage

    if len(values) not in (1, number):
        raise BadUsage(f"{len(values)} given for {number} wearers", option, "give one, or one each")
    return list(values) * (number if len(values) == 1 else 1)


def _cylinder(
    kind: str, args: argparse.Namespace, rules: "Procedure", unit: str, rack: "Rack"
) -> "tuple[str, Cylinder]":
    """Look a cylinder up, or take it as water volume and rated pressure. BadUsage."""
    from monitor.incident import units
    from monitor.incident.air.shown import Cylinder

    known = rack.find(kind)
    if known is not None:
        name, volume, rated = known.name, known.water_volume_l, known.rated
    else:
        volume, shown = _by_size(kind, rack)
        line = args.airline is not None
        more = "" if line else "; on a line more: --airline"
        volumes = BANK_L if line else VOLUMES_L
        _check("--cylinder", volume, *volumes, "L", f"a water volume in {kind} of", more)
        rated = units.bar_from(shown, unit)
        least, most = (units.pressure(bar, unit) for bar in RATED_BAR)
        _check("--cylinder", shown, least, most, unit, f"a rated pressure in {kind} of")
        name = f"{volume:g} L {shown:g} {unit}"
    low = rules.low_air_of(rated)
    if args.low_air is not None:
        _check("--low-air", args.low_air, 0, units.pressure(rated, unit), unit)
        low = units.bar_from(args.low_air, unit)
    return name, Cylinder(volume, rated, low, rules.gas_temperature_c)


def _by_size(kind: str, rack: "Rack") -> tuple[float, float]:
    from monitor.errors import BadUsage

    found = re.fullmatch(r"(\d{1,3}(?:\.\d+)?)/(\d{1,4}(?:\.\d+)?)", kind)
    if found is None:
        known = ", ".join(rack.names())
        raise BadUsage(f"no such cylinder: {kind}", "--cylinder", f"VOLUME/RATED or one of {known}")
    return float(found[1]), float(found[2])


def _seconds(text: str | None) -> int | None:
    """Seconds into the day of ``HH:MM`` or ``HH:MM:SS``. BadUsage."""
    from monitor.errors import BadUsage

    if text is None:
        return None
    found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", text)
    if found is None:
        raise BadUsage(f"not a time of day: {text}", "--connected", "such as 23:40")
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return (hours * 60 + minutes) * 60 + seconds


def _check(
    option: str,
    value: float,
    least: float,
    most: float,
    unit: str,
    what: str = "",
    more: str = "",
) -> None:
    """Refuse what cannot be: what it is, where it stands, and what can be. BadUsage."""
    from monitor.errors import BadUsage

    if not least <= value <= most + EDGE:
        to_do = f"give {_figure(least, math.ceil)} to {_figure(most, math.floor)} {unit}{more}"
        if unit == "bar" and value <= PSI_MAX:
            to_do += "; for psi add --gauge psi"
        raise BadUsage(f"{what} {value:g} {unit} cannot be".strip(), option, to_do)


def _figure(bound: float, whole: "Callable[[float], int]") -> str:
    """Say a bound so that what is said is allowed: tenths of a small one, else whole."""
    return f"{bound:g}" if bound < SMALL else str(whole(bound - EDGE if bound % 1 else bound))
