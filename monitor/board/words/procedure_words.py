"""A procedure's main values in few lines: what to look at before it is in force. Pure."""

from monitor.incident import units
from monitor.incident.procedure import Procedure

_RULES = {
    "none": "no rule",
    "half": "half of the usable air",
    "double": "twice the air of the way in",
    "thirds": "a third in, a third out, a third kept",
}


def main_values(rules: Procedure) -> tuple[tuple[str, str, str], ...]:
    """Give what each value is called, the value in words, and its source."""
    rows = (
        ("planning rate", f"{rules.planning_rate_l_min:g} L/min", ("planning_rate_l_min",)),
        ("margin", _margin(rules), ("margin_min", "margin_bar", "margin_fraction")),
        (rules.words.turn_back, _turn_back(rules), ("turn_back_rule",)),
        (rules.words.low_air_warning, _low_air(rules), ("low_air_bar", "low_air_fraction")),
    )
    return tuple(
        (name, value, next((rules.sources[key] for key in keys if key in rules.sources), ""))
        for name, value, keys in rows
    )


def _margin(rules: Procedure) -> str:
    if rules.margin_min is not None:
        return f"{rules.margin_min:g} min"
    if rules.margin_bar is not None:
        return _pressure(rules.margin_bar, rules)
    return "none" if rules.margin_fraction is None else _share(rules.margin_fraction)


def _turn_back(rules: Procedure) -> str:
    if rules.turn_back_fixed_bar is not None:
        return f"at {_pressure(rules.turn_back_fixed_bar, rules)}"
    if rules.turn_back_fixed_fraction is not None:
        return f"at {_share(rules.turn_back_fixed_fraction)}"
    return _RULES[rules.turn_back_rule]


def _low_air(rules: Procedure) -> str:
    if rules.low_air_bar is not None:
        return _pressure(rules.low_air_bar, rules)
    return _share(rules.low_air_fraction or 0.0)


def _pressure(bar: float, rules: Procedure) -> str:
    """What must still be there is never rounded down."""
    return f"{units.turn(bar, rules.pressure_unit)} {rules.pressure_unit}"


def _share(fraction: float) -> str:
    return f"{100 * fraction:.4g} % of rated pressure"
