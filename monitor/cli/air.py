"""``outby air``: the sums of the board without an incident, as a calculator."""

import argparse
import re
from typing import TYPE_CHECKING, TypeVar

from monitor.cli.options import Subparsers, add_command, settings_of

_T = TypeVar("_T")

if TYPE_CHECKING:
    from collections.abc import Sequence

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
RATED_BAR = (50.0, 450.0)
PSI_MAX = 7000
EDGE = 1e-6

_DESCRIPTION = """\
What a cylinder holds, how long it lasts and where to turn back, by the rules of a procedure: the
sums of the board, without an incident. Contents and times stand twice, by real gas and as on a
printed table (pressure x water volume); each figure has its rule in words.

For a crew give several pressures; one cylinder then counts for all of them, or give as many. With
pressures at the objective the way in is known, and turn-back is reckoned from it.

Nothing that is left is ever rounded up, and no pressure to turn at down. It plans; the wearer's
own gauge and warning device come first.

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
    shown.add_argument("--json", action="store_true", help="fields, as README.md has them")


def run(args: argparse.Namespace) -> int:
    """Print the sums. BadUsage, BadFile."""
    import json

    from monitor import cylinders, procedures
    from monitor.cli.air_sheet import Question, fields, text
    from monitor.errors import Exit

    settings = settings_of(args)
    rules = _rules(procedures.load(settings.procedure or "plain"), args)
    unit = args.gauge or rules.pressure_unit
    rack = cylinders.load(settings.cylinders)
    question = Question(rules, unit, _seconds(args.connected), _wearers(args, rules, unit, rack))
    if args.json:
        print(json.dumps(fields(question), indent=2))
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
        _check("--cylinder", volume, *VOLUMES_L, "L")
        rated = units.bar_from(shown, unit)
        least, most = (units.pressure(bar, unit) for bar in RATED_BAR)
        _check("--cylinder", shown, least, most, unit)
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


def _check(option: str, value: float, least: float, most: float, unit: str) -> None:
    """Refuse what cannot be. BadUsage."""
    from monitor.errors import BadUsage

    if not least <= value <= most + EDGE:
        to_do = f"{least:.0f} to {most:.0f} {unit}"
        if unit == "bar" and value <= PSI_MAX:
            to_do += "; for psi add --gauge psi"
        raise BadUsage(f"{value:g} {unit} cannot be", option, to_do)
