"""What each part of a scenario allows but the whole does not: names of nobody, things twice."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from difflib import get_close_matches

from shared.toml_lines import Place
from simulators.deeds import Go
from simulators.injects import Inject, ReceiverPulled, SameNumber
from simulators.scenario import PackPlan, Scenario
from simulators.values import IDENTITY_MAX, NAME_MAX, PACKS_MAX, SHORT_MAX

Fault = tuple[Place, str]
"""Where, and what is wrong."""
_AFTER_END = "is after the end of the scenario"


def contradictions(scenario: Scenario) -> Iterator[Fault]:
    """Give each, in the order of the file's tables."""
    if not scenario.count:
        yield ("packs",), "there is no pack: [[packs]] or [[groups]] is needed"
    if scenario.count > PACKS_MAX:
        yield ("groups",), f"{scenario.count} packs are more than {PACKS_MAX}"
    plans = list(_plans(scenario))
    known = {plan.wearer for _, plan in plans}
    yield from _of_places(scenario)
    yield from _of_wearers(scenario, plans)
    yield from _of_acts(scenario, known)
    yield from _of_injects(scenario, known, {plan.pack for _, plan in plans})
    yield from _of_pools(scenario)
    yield from _of_expected(scenario, known)
    if not scenario.incident.roster and max(known) > len(known):
        missing = min(set(range(1, len(known) + 1)) - known)
        yield ("incident",), f"without a roster wearers count from 1, and {missing} is missing"


def unknown_alarms(scenario: Scenario, alarms: Collection[str]) -> Iterator[Fault]:
    """Give each kind of alarm that is none of ``alarms``, with the nearest; empty: not asked."""
    if not alarms:
        return
    named: list[tuple[Place, str | None]] = [
        (("injects", n, "shows"), inject.shows) for n, inject in enumerate(scenario.injects)
    ]
    named += [(("expected", n, "alarm"), one.alarm) for n, one in enumerate(scenario.expected)]
    for place, kind in named:
        if kind is not None and kind not in alarms:
            near = get_close_matches(kind, sorted(alarms), 1, 0.0)
            yield place, f"there is no alarm {kind}; the nearest is {near[0]}"


def _of_places(scenario: Scenario) -> Iterator[Fault]:
    names: set[str] = set()
    for number, place in enumerate(scenario.places):
        if place.name in names:
            yield ("places", number, "name"), f"place {place.name} is there twice"
        names.add(place.name)
    for number, name in enumerate(scenario.radio.bases):
        if name not in names:
            yield ("radio", "bases", number), _no_place(name)


def _of_wearers(scenario: Scenario, plans: list[tuple[Place, PackPlan]]) -> Iterator[Fault]:
    packs: set[int] = set()
    wearers: set[int] = set()
    places = {place.name for place in scenario.places}
    for place, plan in plans:
        if plan.pack in packs:
            yield (*place, "pack"), f"pack {plan.pack} is there twice"
        if plan.wearer in wearers:
            yield (*place, "wearer"), f"wearer {plan.wearer} is there twice"
        if plan.pack is not None:
            packs.add(plan.pack)
        wearers.add(plan.wearer)
        if what := _too_far(plan):
            yield place, what
        if plan.at and plan.at not in places:
            yield (*place, "at"), _no_place(plan.at)
        for n, deed in enumerate(plan.deeds):
            if deed.at_s > scenario.length_s:
                yield (*place, "deeds", n, "at_s"), _AFTER_END
            if isinstance(deed, Go) and deed.to is not None and deed.to not in places:
                yield (*place, "deeds", n, "to"), _no_place(deed.to)


def _of_acts(scenario: Scenario, known: set[int]) -> Iterator[Fault]:
    for number, act in enumerate(scenario.acts):
        if act.at_s > scenario.length_s:
            yield ("acts", number, "at_s"), _AFTER_END
        yield from _unknown(known, act.wearers, ("acts", number, "wearers"))


def _of_injects(scenario: Scenario, known: set[int], packs: set[int | None]) -> Iterator[Fault]:
    places = {place.name for place in scenario.places}
    names: set[str] = set()
    for number, inject in enumerate(scenario.injects):
        at = ("injects", number)
        if inject.name in names:
            yield (*at, "name"), f'inject "{inject.name}" is there twice'
        names.add(inject.name)
        if inject.at_s is not None and inject.at_s > scenario.length_s:
            yield (*at, "at_s"), _AFTER_END
        elif inject.window_s and _latest_s(inject) > scenario.length_s:
            yield (*at, "window_s"), "reaches beyond the end of the scenario"
        yield from _unknown(known, inject.wearers, (*at, "wearers"))
        yield from _unknown(known, inject.shows_for, (*at, "shows_for"))
        if inject.when is not None:
            yield from _unknown(known, (inject.when.wearer,), (*at, "when", "wearer"))
            if inject.when.at is not None and inject.when.at not in places:
                yield (*at, "when", "at"), _no_place(inject.when.at)
        deed = inject.deed
        if isinstance(deed, Go) and deed.to is not None and deed.to not in places:
            yield (*at, "deed", "to"), _no_place(deed.to)
        if isinstance(deed, SameNumber) and deed.pack not in packs:
            yield (*at, "deed", "pack"), f"there is no pack {deed.pack}"
        if isinstance(deed, ReceiverPulled) and deed.base > max(len(scenario.radio.bases), 1):
            yield (*at, "deed", "base"), f"there is no base radio {deed.base}"


def _latest_s(inject: Inject) -> float:
    """When it comes at the latest: since the start, or since its condition came true."""
    return (inject.after_s if inject.at_s is None else inject.at_s) + inject.window_s


def _of_pools(scenario: Scenario) -> Iterator[Fault]:
    names = [pool.name for pool in scenario.pools]
    of_each = Counter(one.pool for one in scenario.injects if one.pool is not None)
    for number, pool in enumerate(scenario.pools):
        if pool.name in names[:number]:
            yield ("pools", number, "name"), f'pool "{pool.name}" is there twice'
        if not of_each[pool.name]:
            yield ("pools", number, "name"), f'no inject is of pool "{pool.name}"'
        elif pool.take > of_each[pool.name]:
            what = f"only {of_each[pool.name]} injects are of this pool"
            yield ("pools", number, "take"), what
    for number, inject in enumerate(scenario.injects):
        if inject.pool is not None and inject.pool not in names:
            yield ("injects", number, "pool"), f'there is no pool "{inject.pool}"'


def _of_expected(scenario: Scenario, known: set[int]) -> Iterator[Fault]:
    injects = {inject.name for inject in scenario.injects}
    for number, expected in enumerate(scenario.expected):
        at = ("expected", number)
        if expected.inject is not None and expected.inject not in injects:
            yield (*at, "inject"), f'there is no inject "{expected.inject}"'
        if expected.at_s is not None and expected.at_s > scenario.length_s:
            yield (*at, "at_s"), _AFTER_END
        yield from _unknown(known, expected.wearers, (*at, "wearers"))


def _unknown(known: set[int], wearers: Iterable[int], place: Place) -> Iterator[Fault]:
    if unknown := sorted(set(wearers) - known):
        yield place, f"there is no wearer {unknown[0]}"


def _no_place(name: str) -> str:
    return f'there is no place "{name}"'


def _plans(scenario: Scenario) -> Iterator[tuple[Place, PackPlan]]:
    """Give every wearer, with where in the file they come from."""
    for number, plan in enumerate(scenario.packs):
        yield ("packs", number), plan
    for number, group in enumerate(scenario.groups):
        for plan in group.plans():
            yield ("groups", number), plan


def _too_far(plan: PackPlan) -> str | None:
    """Say what is beyond a limit that the first of a group still keeps."""
    if plan.pack is not None and plan.pack > IDENTITY_MAX:
        return f"pack {plan.pack} does not fit 32 bits"
    if plan.wearer > PACKS_MAX:
        return f"wearer {plan.wearer} is above {PACKS_MAX}"
    for word, most in ((plan.name, NAME_MAX), (plan.call_sign, SHORT_MAX), (plan.crew, SHORT_MAX)):
        if len(word) > most:
            return f'"{word}" has more than {most} characters'
    return None
