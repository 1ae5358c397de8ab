"""Small errors planted in a module, one at a time: what `benchmarks/bite.py` tries the tests on.

Each is a change that a tired person could have made: a comparison that includes its limit or runs the other way, a constant one
off, a sign, plus for minus, a root forgotten, two names of like kind swapped, a condition turned round, a statement left out.
Our own, since the kept tools do not fit: mutmut 3 (tried) wraps every function in several, which our tests of the public names
refuse, and leaves out module tables and properties; cosmic-ray starts a Python for every change, two seconds of pytest each.
"""

from __future__ import annotations

import ast
import copy
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

COMPARISONS: dict[type, tuple[type, ...]] = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.GtE), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,)}
ARITHMETIC: dict[type, type] = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
                                ast.FloorDiv: ast.Div, ast.Mod: ast.Add}
TWINS = {"min": "max", "max": "min", "floor": "ceil", "ceil": "floor", "sin": "cos", "cos": "sin", "log1p": "log",
         "expm1": "exp", "sinh": "cosh", "cosh": "sinh", "any": "all", "all": "any", "append": "extend"}
FORGOTTEN = {"sqrt", "abs", "exp", "log", "float", "int", "round", "radians", "hypot"}  # f(x) becomes x
ORDERLESS = {"min", "max", "hypot", "checked", "checked_count", "isinstance", "range", "getattr"}  # no use in swapping these
# Calls whose numbers are choices with one home, not arithmetic: other tests read them from there (the fields of the machine).
CHOICES = {"_number", "field"}
# Fields of a syntax tree that no error is planted in: types, and what only decorates.
SKIPPED = {"annotation", "returns", "decorator_list", "type_comment"}
ENOUGH = 60  # letters of source that a change is told by

Step = tuple[str, int | None]
Names = dict[str, tuple[str, int, frozenset[str]]]  # kind, first line, and names that are the same number


@dataclass(frozen=True)
class Mutant:
    """One planted error: its module, line, enclosing function, the source before and after, and the whole changed tree."""

    module: str
    line: int
    scope: str
    before: str
    after: str
    number: int  # of those that read alike in one scope
    tree: Callable[[], ast.Module]

    @property
    def key(self) -> str:
        """The error in words that do not move with the lines, as it stands in the list of harmless ones."""
        twice = f"  #{self.number}" if self.number > 1 else ""
        return f"{self.module}.{self.scope}: {self.before}  ->  {self.after}{twice}"


def mutants(module: str, source: str) -> list[Mutant]:
    """Return every small error that can be planted in `source`, in the order of its lines."""
    root = ast.parse(source)
    made: list[Mutant] = []
    seen: dict[tuple[str, str, str], int] = {}
    for path, scope, names in _places(root):
        node = _at(root, path)
        for new in _changes(node, _at(root, path[:-1]) if path else root, names):
            before, after = _told(root, path, new)
            if before == after:
                continue
            alike = (scope, before, after)
            seen[alike] = seen.get(alike, 0) + 1
            made.append(Mutant(module, getattr(node, "lineno", 0), scope, before, after, seen[alike],
                               lambda path=path, new=new: _planted(root, path, new)))  # type: ignore[misc]
    return made


def _places(root: ast.AST) -> Iterator[tuple[tuple[Step, ...], str, Names]]:
    """Yield (path, name of the enclosing function, its own names with their kinds and first lines) of every node."""
    stack: list[tuple[ast.AST, tuple[Step, ...], tuple[str, ...], Names]] = [(root, (), (), {})]
    while stack:
        node, path, scope, names = stack.pop()
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            scope = (*scope, node.name)
            names = _names(node) if isinstance(node, ast.FunctionDef) else {}
        if isinstance(node, ast.expr) or (isinstance(node, ast.stmt) and path):
            yield path, ".".join(scope) or "<module>", names
        if isinstance(node, (ast.Raise, ast.JoinedStr, ast.Import, ast.ImportFrom)) or _call(node) in CHOICES:
            continue
        children: list[tuple[ast.AST, Step]] = []
        for field, value in ast.iter_fields(node):
            if field in SKIPPED:
                continue
            for place, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(child, ast.AST) and not isinstance(child, (ast.expr_context, ast.operator, ast.cmpop)):
                    children.append((child, (field, place)))
        stack.extend((child, (*path, step), scope, names) for child, step in reversed(children))


def _names(function: ast.FunctionDef) -> Names:
    """Return the names that a function itself binds: their kind (a parameter's type, else "local") and first line.

    A name that is bound to what a check returns holds the same number as the name that was checked.
    """
    names: Names = {one.arg: (ast.unparse(one.annotation) if one.annotation else "?", 0, frozenset())
                    for one in (*function.args.args, *function.args.kwonlyargs) if one.arg not in ("self", "cls")}
    for node in ast.walk(function):
        if isinstance(node, ast.Assign):
            for target in node.targets:
                for bound, value in _pairs(target, node.value):
                    if isinstance(bound, ast.Name):
                        same = {one.id for one in ast.walk(value) if isinstance(one, ast.Name)} if _checks(value) else set()
                        names.setdefault(bound.id, ("local", node.lineno, frozenset(same)))
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store) and node.id != "_":
            names.setdefault(node.id, ("local", node.lineno, frozenset()))
    return names


def _pairs(target: ast.expr, value: ast.expr) -> list[tuple[ast.expr, ast.expr]]:
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
        return list(zip(target.elts, value.elts))
    return [(target, value)]


def _checks(value: ast.expr) -> bool:
    return isinstance(value, ast.IfExp) and _checks(value.orelse) or _call(value).startswith(("checked", "_"))


def _changes(node: ast.AST, parent: ast.AST, names: Names) -> Iterator[ast.AST | None]:
    """Yield what may stand in a node's place; None for a statement left out."""
    if isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            for other in COMPARISONS[type(operator)]:
                yield ast.Compare(node.left, [*node.ops[:place], other(), *node.ops[place + 1:]], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
        yield ast.BinOp(node.left, ARITHMETIC[type(node.op)](), node.right)
    elif isinstance(node, ast.AugAssign) and type(node.op) in ARITHMETIC:
        yield ast.AugAssign(node.target, ARITHMETIC[type(node.op)](), node.value)
        yield None
    elif isinstance(node, ast.UnaryOp):
        yield node.operand
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.Constant):
        yield from (ast.Constant(other) for other in _beside(node.value))
    elif isinstance(node, ast.Call):
        yield from _other_calls(node)
    elif isinstance(node, (ast.Name, ast.Attribute)) and isinstance(node.ctx, ast.Load):
        yield from _other_names(node, parent, names)
    elif isinstance(node, (ast.If, ast.IfExp)):
        changed = copy.copy(node)
        changed.test = ast.UnaryOp(ast.Not(), node.test)
        yield changed
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield None


def _beside(value: Any) -> Iterator[Any]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1
    elif isinstance(value, float):
        # A whole number is one off; a measured or fitted one is a tenth off.
        yield value + 1.0 if value == int(value) and abs(value) < 100.0 else float(f"{1.1 * value:.6g}")


def _call(node: ast.AST) -> str:
    """Return the last name of what is called; "" where nothing is."""
    if not isinstance(node, ast.Call):
        return ""
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def _other_calls(node: ast.Call) -> Iterator[ast.AST]:
    name = _call(node)
    if name in TWINS:
        function = copy.copy(node.func)
        setattr(function, "id" if isinstance(function, ast.Name) else "attr", TWINS[name])
        yield ast.Call(function, node.args, node.keywords)
    if name in FORGOTTEN and node.args:
        yield node.args[0]
    if name not in ORDERLESS and len(node.args) >= 2:
        yield ast.Call(node.func, [node.args[1], node.args[0], *node.args[2:]], node.keywords)


def _other_names(node: ast.Name | ast.Attribute, parent: ast.AST, names: Names) -> Iterator[ast.AST]:
    """Another name of the same kind, bound before; which one hangs on the place alone, so that the list stays the same."""
    if isinstance(node, ast.Attribute) or node.id not in names or (isinstance(parent, ast.Call) and parent.func is node):
        return
    kind, _, same = names[node.id]
    others = sorted(name for name, (of, line, alike) in names.items()
                    if name != node.id and line < node.lineno and (of == kind or {of, kind} <= {"local", "float", "int"})
                    and name not in same and node.id not in alike)
    if others:
        yield ast.Name(others[zlib.crc32(f"{node.id} {ast.unparse(parent)[:200]}".encode()) % len(others)], ast.Load())


# --------------------------------------------------------------------------------------------------------- trees
def _at(root: ast.AST, path: tuple[Step, ...]) -> ast.AST:
    node: Any = root
    for field, place in path:
        node = getattr(node, field)
        node = node if place is None else node[place]
    return node


def _planted(root: ast.Module, path: tuple[Step, ...], new: ast.AST | None) -> ast.Module:
    """Return a copy of the tree with `new` at `path` (with `pass` there for None)."""
    tree = copy.deepcopy(root)
    _put(tree, path, ast.copy_location(copy.deepcopy(new) if new is not None else ast.Pass(), _at(tree, path)))
    return ast.fix_missing_locations(tree)


def _put(tree: ast.AST, path: tuple[Step, ...], new: ast.AST) -> None:
    parent, (field, place) = _at(tree, path[:-1]), path[-1]
    if place is None:
        setattr(parent, field, new)
    else:
        getattr(parent, field)[place] = new


def _told(root: ast.Module, path: tuple[Step, ...], new: ast.AST | None) -> tuple[str, str]:
    """Return the source round a change, before and after: as much of it as stays readable."""
    old, best = _at(root, path), ("", "")
    for length in range(len(path), 0, -1):
        here = _at(root, path[:length])
        before = _text(here)
        _put(root, path, new if new is not None else ast.Pass())  # for a moment, in place: a copy of the tree costs too much
        after = _text(_at(root, path[:length]))
        _put(root, path, old)
        too_wide = max(len(before), len(after)) > ENOUGH or isinstance(here, (ast.arguments, ast.FunctionDef, ast.ClassDef))
        if best[0] and too_wide:
            break
        best = (before, after)
        if isinstance(here, ast.stmt):
            break  # of what lies further out, an if for one, only the head is told
    return best


def _text(node: ast.AST) -> str:
    if isinstance(node, (ast.If, ast.While)):
        return f"if {ast.unparse(node.test)}: ..."
    return " ".join(ast.unparse(node).split())
