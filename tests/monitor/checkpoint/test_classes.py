"""Classes of the fold and no others."""

from monitor.checkpoint.classes import CLASSES
from monitor.checkpoint.recalled import Recalled
from monitor.incident.situation import Situation
from protocol.freshness import PackFreshness
from protocol.packets import Report


def test_the_classes_of_the_fold_are_there_by_their_full_names() -> None:
    for kind in (Situation, PackFreshness, Report, Recalled):
        assert CLASSES[f"{kind.__module__}.{kind.__qualname__}"] is kind


def test_no_others_are_and_none_that_is_raised() -> None:
    for name, kind in CLASSES.items():
        assert name == f"{kind.__module__}.{kind.__qualname__}"
        assert name.startswith(("monitor.incident.", "protocol.", "monitor.checkpoint.recalled."))
        assert not issubclass(kind, BaseException)
