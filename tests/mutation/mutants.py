"""Small wrong changes of a module's code: an operator exchanged, a number nudged, a condition turned round.

Docstrings, annotations, names, codes of enumerations, sentences and messages are left alone; what is changed
is what computes.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
#: numpy functions exchanged for their counterparts
CALLED = {
    "minimum": "maximum",
    "maximum": "minimum",
    "fmin": "fmax",
    "fmax": "fmin",
    "argmin": "argmax",
    "floor": "ceil",
    "exp": "log1p",
    "sqrt": "square",
    "isnan": "isfinite",
    "cbrt": "sqrt",
    "any": "all",
    "all": "any",
    "min": "max",
    "max": "min",
}
#: statements that hold statements: only their first lines are their own
COMPOUND = (ast.If, ast.For, ast.While, ast.With, ast.Try, ast.FunctionDef, ast.ClassDef)


@dataclass(frozen=True)
class Mutant:
    """One changed module: where, what became what, and its code.

    `function` is the function or method that holds the change, as its code object is called, and empty where
    the change is met on loading the module; `first` and `last` are the lines of the statement changed.
    """

    module: str
    line: int
    what: str
    source: str
    function: str
    first: int
    last: int

    @property
    def name(self) -> str:
        """One line to tell it by."""
        return f"{self.module}:{self.line} {self.what}"


def mutants(module: str, source: str) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    tree = ast.parse(source)
    skipped, function, lines = _left_alone(tree), _functions(tree), _lines(tree)
    found = []
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in skipped:
            continue
        for change, what in _changes(node):
            other = copy.deepcopy(tree)
            twin = next(one for spot, one in enumerate(ast.walk(other)) if spot == place)
            change(twin)
            ast.fix_missing_locations(other)
            line = getattr(node, "lineno", 0)
            found.append(
                Mutant(
                    module,
                    line,
                    what,
                    ast.unparse(other),
                    function.get(id(node), ""),
                    *lines.get(id(node), (line, line)),
                )
            )
    return sorted(found, key=lambda mutant: (mutant.line, mutant.what))


def _functions(tree: ast.Module) -> dict[int, str]:
    """Ids of all nodes in the body of a function at the top of the module or of a class, with its name."""
    found: dict[int, str] = {}
    for held in tree.body:
        inside = held.body if isinstance(held, ast.ClassDef) else [held]
        before = f"{held.name}." if isinstance(held, ast.ClassDef) else ""
        for function in inside:
            if isinstance(function, ast.FunctionDef):
                for statement in function.body:
                    found |= {id(node): before + function.name for node in ast.walk(statement)}
    return found


def _lines(tree: ast.Module) -> dict[int, tuple[int, int]]:
    """Ids of all nodes with the first and last line of the innermost statement that each belongs to."""
    found: dict[int, tuple[int, int]] = {}
    for statement in ast.walk(tree):  # from the outside to the inside
        if isinstance(statement, ast.stmt):
            last = statement.end_lineno or statement.lineno
            if isinstance(statement, COMPOUND):
                last = max(statement.lineno, statement.body[0].lineno - 1)
            found |= {id(node): (statement.lineno, last) for node in ast.walk(statement)}
    return found


def _left_alone(tree: ast.AST) -> set[int]:
    """Ids of nodes that say and do not compute: docstrings, annotations, imports, decorators, `__all__`."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        if isinstance(node, ast.FunctionDef):
            parts += [node.returns, *node.decorator_list]
            parts += [argument.annotation for argument in (*node.args.args, *node.args.kwonlyargs)]
        elif isinstance(node, ast.AnnAssign):
            parts.append(node.annotation)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            parts.append(node)
        elif isinstance(node, ast.ClassDef):
            parts += [*node.decorator_list, *node.keywords]
            if any(getattr(base, "id", "") == "IntEnum" for base in node.bases):
                parts += [
                    part for part in node.body if isinstance(part, ast.Assign)
                ]  # codes, told apart only
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            if node.targets[0].id in ("__all__", "Floats", "Flags", "Codes", "Positions"):
                parts.append(node)
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Check":
            parts += [keyword for keyword in node.keywords if keyword.arg in ("needs", "figures", "numbers")]
        for part in parts:
            if part is not None:
                skipped |= {id(inner) for inner in ast.walk(part)}
    return skipped


def _changes(node: ast.AST) -> Iterator[tuple[Callable[[Any], None], str]]:
    if isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in ARITHMETIC:
        other = ARITHMETIC[type(node.op)]
        yield (lambda twin: setattr(twin, "op", other())), f"{type(node.op).__name__} -> {other.__name__}"
    elif isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            for other in COMPARED.get(type(operator), ()):
                yield (
                    (lambda twin, at=place, new=other: twin.ops.__setitem__(at, new())),
                    f"{type(operator).__name__} -> {other.__name__}",
                )
    elif isinstance(node, ast.BoolOp):
        other = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield (lambda twin: setattr(twin, "op", other())), f"{type(node.op).__name__} -> {other.__name__}"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Invert | ast.USub):
        # ~x becomes ~~x, -x becomes +x: both leave x as it is
        yield _leave_operand, f"{type(node.op).__name__} dropped"
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield (lambda twin: setattr(twin, "value", not twin.value)), f"{node.value} -> {not node.value}"
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        nudged = node.value * 1.25 if isinstance(node.value, float) and node.value else node.value + 1
        yield (lambda twin: setattr(twin, "value", nudged)), f"{node.value} -> {nudged:g}"
    elif isinstance(node, ast.Attribute) and node.attr in CALLED and isinstance(node.ctx, ast.Load):
        yield (lambda twin: setattr(twin, "attr", CALLED[twin.attr])), f"{node.attr} -> {CALLED[node.attr]}"


def _leave_operand(twin: ast.UnaryOp) -> None:
    if isinstance(twin.op, ast.USub):
        twin.op = ast.UAdd()
    else:
        twin.operand = ast.UnaryOp(ast.Invert(), twin.operand)
