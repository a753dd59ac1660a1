"""Mutants of a module: each is the module with one thing changed that a test should notice.

A mutant is named by where its node comes in `ast.walk` and which of the node's changes it is, so that any process can
make it anew from the source alone.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

Change = tuple[str, Callable[[], None]]
"""What becomes of a node, in words, and the function that makes it so in the tree."""

COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
REPLACED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Add,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
    ast.BitXor: ast.BitOr,
}
SIGNS: dict[type[ast.AST], str] = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.In: "in",
    ast.NotIn: "not in",
    ast.Is: "is",
    ast.IsNot: "is not",
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.FloorDiv: "//",
    ast.Mod: "%",
    ast.Pow: "**",
    ast.BitOr: "|",
    ast.BitAnd: "&",
    ast.BitXor: "^",
}
CALLED = {"any": "all", "all": "any", "min": "max", "max": "min", "sorted": "list"}
METHODS = {
    "intersection": "union",
    "union": "intersection",
    "issubset": "issuperset",
    "issuperset": "issubset",
    "add": "discard",
    "discard": "add",
    "append": "count",
    "extend": "count",
    "startswith": "endswith",
    "endswith": "startswith",
}
WORD = re.compile(r"[a-z][a-z-]*")


class Mutant(NamedTuple):
    """place: where its node comes in `ast.walk`; choice: which of the node's changes; code: the source line."""

    file: str
    line: int
    place: int
    choice: int
    what: str
    code: str


def mutants(source: str, file: str, constants: Mapping[str, object]) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines.

    constants: the module's names with their values; a name in capitals is changed for another of its kind.
    """
    tree, lines = ast.parse(source), source.splitlines()
    found = [
        Mutant(file, node.lineno, place, choice, what, lines[node.lineno - 1].strip())
        for place, node in _places(tree)
        for choice, (what, _) in enumerate(_changes(node, tree, constants))
    ]
    return sorted(found, key=lambda mutant: (mutant.line, mutant.place, mutant.choice))


def mutated(source: str, mutant: Mutant, constants: Mapping[str, object]) -> ast.Module:
    """The tree of the module with the one change made."""
    tree = ast.parse(source)
    node = dict(_places(tree))[mutant.place]
    what, change = _changes(node, tree, constants)[mutant.choice]
    assert what == mutant.what
    change()
    return ast.fix_missing_locations(tree)


def _places(tree: ast.Module) -> list[tuple[int, ast.expr | ast.stmt]]:
    """The nodes that may change: no annotations, decorators, docstrings, imports or lines for type checkers."""
    left_out = {id(inner) for node in ast.walk(tree) for outer in _not_code(node) for inner in ast.walk(outer)}
    return [
        (place, node)
        for place, node in enumerate(ast.walk(tree))
        if id(node) not in left_out and isinstance(node, ast.expr | ast.stmt)
    ]


def _not_code(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        yield from node.decorator_list
    if isinstance(node, ast.FunctionDef) and node.returns:
        yield node.returns
    if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation:
        yield node.annotation
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node
    if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert | ast.JoinedStr):
        yield node
    if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        yield node


def _changes(  # noqa: C901  (one line for each kind of node)
    node: ast.expr | ast.stmt, tree: ast.Module, constants: Mapping[str, object]
) -> list[Change]:
    """The changes that fit a node, in a fixed order."""
    match node:
        case ast.Compare():
            return _of_compare(node)
        case ast.BoolOp():
            return _of_bool(node, tree)
        case ast.BinOp() | ast.AugAssign():
            return _of_operator(node, tree)
        case ast.UnaryOp(op=ast.Not()):
            return [(f"{ast.unparse(node)} loses its not", lambda: _replace(tree, node, node.operand))]
        case ast.Constant():
            return _of_constant(node, tree)
        case ast.Name(ctx=ast.Load()):
            return _of_name(node, constants)
        case ast.Call():
            return _of_call(node)
        case ast.ListComp() | ast.SetComp() | ast.DictComp() | ast.GeneratorExp():
            return _of_filters(node)
        case ast.IfExp():
            return _of_test(node)
        case ast.If() | ast.While():
            return [*_of_test(node), *_of_statement(node, tree)]
        case ast.stmt():
            return _of_statement(node, tree)
    return []


def _of_compare(node: ast.Compare) -> list[Change]:
    def swap(at: int, other: type[ast.cmpop]) -> Callable[[], None]:
        return lambda: node.ops.__setitem__(at, other())

    return [
        (f"{SIGNS[type(op)]} becomes {SIGNS[other]}", swap(at, other))
        for at, op in enumerate(node.ops)
        for other in COMPARED[type(op)]
    ]


def _of_bool(node: ast.BoolOp, tree: ast.Module) -> list[Change]:
    other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    name = "or" if isinstance(node.op, ast.And) else "and"

    def drop(at: int) -> Callable[[], None]:
        left = node.values[:at] + node.values[at + 1 :]
        return lambda: _replace(tree, node, left[0] if len(left) == 1 else ast.BoolOp(node.op, left))

    dropped = [(f"without {ast.unparse(value)}", drop(at)) for at, value in enumerate(node.values)]
    return [(f"becomes {name}", lambda: setattr(node, "op", other)), *dropped]


def _of_operator(node: ast.BinOp | ast.AugAssign, tree: ast.Module) -> list[Change]:
    removed = _of_statement(node, tree) if isinstance(node, ast.AugAssign) else []
    other = REPLACED.get(type(node.op))
    if other is None:
        return removed
    changed = (f"{SIGNS[type(node.op)]} becomes {SIGNS[other]}", lambda: setattr(node, "op", other()))
    return [changed, *removed]


def _of_constant(node: ast.Constant, tree: ast.Module) -> list[Change]:
    value = node.value
    if isinstance(value, bool):
        others: list[object] = [not value]
    elif isinstance(value, int | float):
        others = [value + 1, value - 1]
    elif isinstance(value, str) and WORD.fullmatch(value):
        others = [value + "?"]
    else:
        return []
    return [(f"{value!r} becomes {other!r}", _setter(node, "value", other)) for other in others]


def _of_name(node: ast.Name, constants: Mapping[str, object]) -> list[Change]:
    """A constant in capitals becomes the next one of its type that the module knows."""
    mine = constants.get(node.id)
    if not node.id.isupper() or not isinstance(mine, str):
        return []
    alike = [name for name, value in constants.items() if name.isupper() and isinstance(value, str)]
    place = alike.index(node.id)
    others = [name for name in alike[place + 1 :] + alike[:place] if constants[name] != mine]
    return [(f"{node.id} becomes {name}", _setter(node, "id", name)) for name in others[:1]]


def _of_call(node: ast.Call) -> list[Change]:
    match node.func:
        case ast.Name(id=name) if name in CALLED:
            return [(f"{name} becomes {CALLED[name]}", _setter(node.func, "id", CALLED[name]))]
        case ast.Attribute(attr=name) if name in METHODS:
            return [(f".{name} becomes .{METHODS[name]}", _setter(node.func, "attr", METHODS[name]))]
    return []


def _of_filters(node: ast.ListComp | ast.SetComp | ast.DictComp | ast.GeneratorExp) -> list[Change]:
    def drop(part: ast.comprehension, at: int) -> Callable[[], None]:
        return lambda: part.ifs.__delitem__(at)

    return [
        (f"without the filter {ast.unparse(test)}", drop(part, at))
        for part in node.generators
        for at, test in enumerate(part.ifs)
    ]


def _of_test(node: ast.If | ast.While | ast.IfExp) -> list[Change]:
    """The test turned round, where no change of its own parts does the same."""
    if isinstance(node.test, ast.Compare | ast.UnaryOp):
        return []
    turned = ast.UnaryOp(ast.Not(), node.test)
    return [(f"{ast.unparse(node.test)} becomes its opposite", _setter(node, "test", turned))]


def _of_statement(node: ast.stmt, tree: ast.Module) -> list[Change]:
    def remove() -> None:
        _replace(tree, node, ast.Pass())

    first = ast.unparse(node).splitlines()[0]
    match node:
        case ast.Return(value=ast.expr() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            return [(f"returns None, not {ast.unparse(value)}", _setter(node, "value", ast.Constant(None)))]
        case ast.Expr() | ast.AugAssign() | ast.Raise() | ast.Continue() | ast.Break() | ast.If(orelse=[]):
            return [(f"without the statement {first}", remove)]
        case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]):
            return [(f"without the statement {first}", remove)]
    return []


def _setter(node: ast.AST, field: str, value: object) -> Callable[[], None]:
    return lambda: setattr(node, field, value)


def _replace(tree: ast.Module, node: ast.AST, other: ast.AST) -> None:
    """Put another node where this one is."""
    for parent in ast.walk(tree):
        for field, value in ast.iter_fields(parent):
            if value is node:
                setattr(parent, field, other)
                return
            if isinstance(value, list) and any(entry is node for entry in value):
                value[[entry is node for entry in value].index(True)] = other
                return
