"""What a scenario leaves to chance, settled: one seed, one run. Pure.

An inject with a window comes at random within it; of those of a pool so many come as it takes. What
comes out is a plain scenario with nothing left open: that is what is played, what a truth file
keeps, and what a score judges by. The draws of an inject hang on the seed and its own name alone,
so that another inject more or less shifts none of them.
"""

from simulators.injects import Inject
from simulators.randoms import between, child
from simulators.scenario import Pool, Scenario

STEP_S = 0.1
"""Times are drawn to a tenth of a second, as a file would say them."""


def drawn(scenario: Scenario, seed: int) -> Scenario:
    """Give the scenario as the run of this seed has it. The same again gives the same."""
    out = {name for pool in scenario.pools for name in _left_out(pool, scenario, seed)}
    injects = tuple(_settled(one, seed) for one in scenario.injects if one.name not in out)
    expected = tuple(one for one in scenario.expected if one.inject not in out)
    return scenario.model_copy(update={"injects": injects, "expected": expected, "pools": ()})


def _left_out(pool: Pool, scenario: Scenario, seed: int) -> list[str]:
    """Names of those that do not come: the last ones, once each has drawn its lot."""
    names = [one.name for one in scenario.injects if one.pool == pool.name]
    lots = {name: child(seed, "pool", pool.name, name).random() for name in names}
    return sorted(names, key=lots.__getitem__)[pool.take :]


def _settled(inject: Inject, seed: int) -> Inject:
    later_s = 0.0
    if inject.window_s:
        drawn_s = between(child(seed, "window", inject.name), 0.0, inject.window_s)
        later_s = drawn_s // STEP_S * STEP_S
    settled: dict[str, object] = {"window_s": 0.0, "pool": None}
    if inject.at_s is None:
        settled["after_s"] = round(inject.after_s + later_s, 1)
    else:
        settled["at_s"] = round(inject.at_s + later_s, 1)
    return inject.model_copy(update=settled if inject.window_s else {"pool": None})
