"""Small faults in a module's source: what its tests should notice. PURE.

Each mutant changes one thing that a person could have got wrong: a comparison, its bounds, a sum, a
condition or half of one, a number, a statement left out. Words, types, assertions and docstrings
stay as they are: nobody tests them.
"""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any, NamedTuple

BIG = 1_000
"""From here on a number is doubled: one more of so many would be no difference to anybody."""
_OPERATORS: dict[type[ast.AST], type[Any]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult,
    ast.Div: ast.Mult, ast.Mod: ast.FloorDiv, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.LShift: ast.RShift, ast.RShift: ast.LShift, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
_LEFT_OUT = {"annotation", "returns", "decorator_list", "type_params", "bases"}


@dataclass(frozen=True)
class Mutant:
    """One fault: the line that it is in, what it says there, and the module with it."""

    line: int
    what: str
    tree: ast.Module


class _Place(NamedTuple):
    """Where a node hangs: ``parent.field``, or an item of that list."""

    parent: ast.AST
    field: str
    at: int | None
    node: ast.AST

    def put(self, node: ast.AST) -> None:
        if self.at is None:
            setattr(self.parent, self.field, node)
        else:
            getattr(self.parent, self.field)[self.at] = node


def mutants(source: str) -> Iterator[Mutant]:
    """Every mutant of a module, in the order of its source."""
    for number in range(count(source)):
        yield mutant(source, number)


def mutant(source: str, number: int) -> Mutant:
    """The mutant of this number; each has a tree of its own."""
    tree = ast.parse(source)
    place, other = next(islice(_changes(tree), number, None))
    before = ast.unparse(place.node)
    line = getattr(place.node, "lineno", getattr(place.parent, "lineno", 0))
    place.put(ast.copy_location(other, place.node) if hasattr(place.node, "lineno") else other)
    ast.fix_missing_locations(tree)
    return Mutant(line, f"{_short(before)}  ->  {_short(ast.unparse(other))}", tree)


def count(source: str) -> int:
    """How many mutants a module has."""
    return sum(1 for _ in _changes(ast.parse(source)))


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else f"{line[:57]}..."


def _changes(tree: ast.Module) -> Iterator[tuple[_Place, ast.AST]]:
    """Every place and what could stand there instead. The tree is changed by whoever asks."""
    for place in _places(tree):
        for other in _OTHERS.get(type(place.node), lambda _: iter(()))(place.node):
            yield place, other


def _places(node: ast.AST) -> Iterator[_Place]:
    for field, value in ast.iter_fields(node):
        if field in _LEFT_OUT:
            continue
        if isinstance(value, list):
            for index, one in enumerate(value):
                if isinstance(one, ast.AST) and not _untested(one):
                    yield _Place(node, field, index, one)
                    yield from _places(one)
        elif isinstance(value, ast.AST):
            yield _Place(node, field, None, value)
            yield from _places(value)


def _untested(node: ast.AST) -> bool:
    """Docstrings, assertions, imports, and what only a type checker reads."""
    words = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    typing = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
    return words or typing or isinstance(node, ast.Assert | ast.Import | ast.ImportFrom)


def _comparison(node: ast.Compare) -> Iterator[ast.AST]:
    for index, sign in enumerate(node.ops):
        others = [*node.ops[:index], _OPERATORS[type(sign)](), *node.ops[index + 1 :]]
        yield ast.Compare(node.left, others, node.comparators)


def _sum(node: ast.BinOp) -> Iterator[ast.AST]:
    if type(node.op) in _OPERATORS and not _is_text(node):
        yield ast.BinOp(node.left, _OPERATORS[type(node.op)](), node.right)


def _condition(node: ast.BoolOp) -> Iterator[ast.AST]:
    yield ast.BoolOp(_OPERATORS[type(node.op)](), node.values)
    for index in range(len(node.values)):
        rest = node.values[:index] + node.values[index + 1 :]
        yield rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)


def _negation(node: ast.UnaryOp) -> Iterator[ast.AST]:
    if isinstance(node.op, ast.Not | ast.USub):
        yield node.operand


def _number(node: ast.Constant) -> Iterator[ast.AST]:
    value = node.value
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int | float):
        yield ast.Constant(value * 2 if value >= BIG else value + 1)


def _branch(node: ast.If) -> Iterator[ast.AST]:
    for always in (True, False):
        yield ast.If(ast.Constant(always), node.body, node.orelse)


def _statement(node: ast.stmt) -> Iterator[ast.AST]:
    if _may_go(node):
        yield ast.Pass()


_OTHERS: dict[type[ast.AST], Callable[[Any], Iterator[ast.AST]]] = {
    ast.Compare: _comparison,
    ast.BinOp: _sum,
    ast.BoolOp: _condition,
    ast.UnaryOp: _negation,
    ast.IfExp: lambda node: iter((node.body, node.orelse)),
    ast.Constant: _number,
    ast.If: _branch,
    ast.Continue: lambda _: iter([ast.Break()]),
    ast.Break: lambda _: iter([ast.Continue()]),
    **dict.fromkeys((ast.Expr, ast.Assign, ast.AugAssign, ast.Raise, ast.Delete), _statement),
}


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(part, ast.JoinedStr) for part in (node.left, node.right))


def _may_go(node: ast.stmt) -> bool:
    """Whether a statement can be left out with no name missing afterwards."""
    if isinstance(node, ast.Expr):
        return not isinstance(node.value, ast.Yield | ast.YieldFrom)
    if isinstance(node, ast.Assign):
        return all(isinstance(one, ast.Attribute | ast.Subscript) for one in node.targets)
    return isinstance(node, ast.AugAssign | ast.Raise | ast.Delete)
