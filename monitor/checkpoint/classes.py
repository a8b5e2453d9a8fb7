"""Which classes a checkpoint may hold: those that the fold is made of, and no others. Pure.

A file names a class by a word that is looked up in this table. Nothing is imported because a file
says so, and no class is asked to build itself: see ``graph``.
"""

from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from pkgutil import walk_packages
from types import MappingProxyType, ModuleType

from monitor import incident
from monitor.checkpoint import recalled
from protocol import delays, freshness, packets


def _modules() -> Iterator[ModuleType]:
    """Every module of the fold, and what else a recorder's state is made of."""
    for found in walk_packages(incident.__path__, f"{incident.__name__}."):
        yield import_module(found.name)
    yield from (delays, freshness, packets, recalled)


def of(modules: Iterable[ModuleType]) -> Iterator[tuple[str, type]]:
    """Every class that these modules make themselves, by the name that stands in a file."""
    for module in modules:
        for name, found in vars(module).items():
            if (
                isinstance(found, type)
                and found.__module__ == module.__name__
                and not issubclass(found, BaseException)
            ):
                yield f"{module.__name__}.{name}", found


CLASSES: Mapping[str, type] = MappingProxyType(dict(of(_modules())))
"""By the name that stands in the file."""
