"""Small changes of a module, each of which some test ought to notice."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

#: What takes an operator's place.
SWAPPED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
#: Names that a slip of the pen would put in each other's place.
PAIRS = (
    ("low", "high"), ("r", "z"), ("side", "lid"), ("base", "lid"), ("heating", "cooling"), ("min", "max"),
    ("inner", "outer"), ("start", "end"), ("first", "total"), ("lethality", "heating_lethality"), ("f", "j"),
    ("r_low", "z_low"), ("r_high", "z_high"), ("window_low", "window_high"), ("minimum", "maximum"), ("all", "any"),
)  # fmt: skip
OTHER = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}


@dataclass(frozen=True)
class Site:
    """A place in a module: its line, the function round it ("" outside), what becomes of what, the module then."""

    file: str
    line: int
    function: str
    change: str
    text: str


class _Names(ast.NodeVisitor):
    """The function round each node, as the interpreter names it."""

    def __init__(self) -> None:
        self.path: list[str] = []
        self.found: dict[ast.AST, str] = {}
        self.functions = 0

    def generic_visit(self, node: ast.AST) -> None:
        self.found[node] = ".".join(self.path) if self.functions else ""
        name, function = getattr(node, "name", ""), isinstance(node, ast.FunctionDef)
        if function or isinstance(node, ast.ClassDef):
            self.path.append(name)
            self.functions += function
            if function:
                self.path.append("<locals>")
        super().generic_visit(node)
        if function or isinstance(node, ast.ClassDef):
            del self.path[-2 if function else -1 :]
            self.functions -= function


def count(path: Path) -> int:
    """Number of changes that a module allows."""
    return len(list(_places(ast.parse(path.read_text("utf-8")))))


def site(path: Path, root: Path, number: int) -> Site:
    """The change of that number."""
    tree = ast.parse(path.read_text("utf-8"))
    names = _Names()
    names.visit(tree)
    node, kind = list(_places(tree))[number]
    before = _shown(node)
    function = names.found[node].removesuffix(".<locals>")
    line = node.lineno  # type: ignore[attr-defined]
    _change(node, kind)
    text = ast.unparse(ast.fix_missing_locations(tree)) + "\n"
    return Site(path.relative_to(root).as_posix(), line, function, f"{before}  ->  {_shown(node)}", text)


def _shown(node: ast.AST) -> str:
    return ast.unparse(node).partition("\n")[0][:150]


def _places(tree: ast.Module) -> Iterator[tuple[ast.AST, str]]:
    """Nodes that can be changed and how, in the order of the text."""
    told = {id(node) for node in ast.walk(tree) if isinstance(node, ast.AnnAssign | ast.arg | ast.FunctionDef)}
    notes = {
        id(inner)
        for node in ast.walk(tree)
        if id(node) in told
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None))
        if part is not None
        for inner in ast.walk(part)
    }
    for node in ast.walk(tree):
        if id(node) in notes or not hasattr(node, "lineno"):
            continue
        kind = _kind(node)
        if kind:
            yield node, kind
        if isinstance(node, ast.Call) and len(node.args) > 1 and ast.dump(node.args[0]) != ast.dump(node.args[1]):
            yield node, "arguments"


def _kind(node: ast.AST) -> str:
    """What can be changed in a node, "" for nothing."""
    match node:
        case ast.Compare(ops=[operator]) if type(operator) in SWAPPED:
            return "compare"
        case ast.BinOp(op=operator) | ast.BoolOp(op=operator) | ast.AugAssign(op=operator) if (
            type(operator) in SWAPPED
        ):
            return "operator"
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            return "sign"
        case ast.Constant(value=bool() | int() | float()):
            return "constant"
        case ast.If() | ast.IfExp():
            return "condition"
        case ast.Tuple(elts=[first, second, *_], ctx=ast.Load()) if ast.dump(first) != ast.dump(second):
            return "order"
        case ast.Attribute(attr=name, ctx=ast.Load()) | ast.Name(id=name, ctx=ast.Load()) if name in OTHER:
            return "name"
    return ""


def _change(node: ast.AST, kind: str) -> None:
    """Change a node in place."""
    match node, kind:
        case ast.Compare(), _:
            node.ops = [SWAPPED[type(node.ops[0])]()]
        case ((ast.BinOp() | ast.BoolOp() | ast.AugAssign()), _):
            node.op = SWAPPED[type(node.op)]()
        case ast.UnaryOp(op=ast.USub()), _:
            node.op = ast.UAdd()
        case ast.UnaryOp(), _:
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
        case ast.Constant(), _:
            old = node.value
            node.value = (not old) if isinstance(old, bool) else old + 1 if isinstance(old, int) else old * 1.5 or 1.0
        case ((ast.If() | ast.IfExp()), _):
            node.test = ast.UnaryOp(ast.Not(), node.test)
        case ast.Tuple(), _:
            node.elts[:2] = node.elts[1::-1]
        case ast.Call(), _:
            node.args[:2] = node.args[1::-1]
        case ast.Attribute(), _:
            node.attr = OTHER[node.attr]
        case ast.Name(), _:
            node.id = OTHER[node.id]
