"""The roster of a scenario that names none: its own wearers, as a roster file."""

import json
from collections.abc import Iterator

from simulators.scenario import PackPlan, Scenario


def roster_text(scenario: Scenario) -> str:
    """Give the text of the file: one person a wearer, in the order of their numbers."""
    plans = sorted(scenario.plans(), key=lambda plan: plan.wearer)
    lines = [f"title = {_quoted(scenario.title)}"]
    for plan in plans:
        lines += ["", "[[people]]", *_person(plan)]
    return "\n".join(lines) + "\n"


def _person(plan: PackPlan) -> Iterator[str]:
    yield f"name = {_quoted(plan.name or f'Wearer {plan.wearer}')}"
    if plan.call_sign:
        yield f"call_sign = {_quoted(plan.call_sign)}"
    if plan.crew:
        yield f"crew = {_quoted(plan.crew)}"
    if plan.leader:
        yield "leader = true"
    if plan.pack is not None:
        yield f"pack = {plan.pack}"
    yield f"water_volume_l = {plan.water_volume_l:g}"
    yield f"rated_bar = {plan.rated_bar:g}"


def _quoted(text: str) -> str:
    """Quote for TOML, whose basic strings take what JSON writes, but DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
