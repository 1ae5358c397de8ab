"""Run a learner's small function without letting it hang, flood or hide the course.

There is no thread and no signal to lean on: the same file runs in a notebook's kernel and in the Python of a browser's
worker, where neither can stop a loop. So the source is compiled with a counter in it: every turn of a loop and every
call of a function ticks, and past a budget of ticks (the same everywhere, so the verdict is too) or past a deadline on
the clock the next tick stops it. `sys.settrace` was the other way to do this; a trace function is dropped by Python
after it has raised once, so one bare `except:` in the learner's loop would defeat it, and it upsets debuggers.

What remains outside the counter is a single long step inside Python itself, so the builtins on offer are a short list,
`range` and whole-number arithmetic are kept to a size, and nothing can be imported but `math`. This protects against
accidents. It is no prison for hostile code, and needs to be none: a learner's code runs on the learner's own machine.
Grading a class must never run code out of a record: see `code_never_runs`.
"""

from __future__ import annotations

import ast
import builtins
import contextlib
import contextvars
import copy
import io
import math
import operator
import time
import tokenize
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from types import FunctionType, SimpleNamespace
from typing import Any

MAX_SOURCE = 8000
"""Characters of source."""
TICKS = 200_000
"""Turns of loops and calls that one judgement may take."""
SECONDS = 2.0
"""Time on the clock that one judgement may take."""
_DEPTH = 100
_SIZE = 1_000_000
_BITS = 20_000
_FILE = "<your function>"

_runs = contextvars.ContextVar("learner code may run", default=True)


@contextlib.contextmanager
def code_never_runs() -> Iterator[None]:
    """Within this block no learner's code is run, whatever asks for it; `may_run()` says which it is."""
    token = _runs.set(False)
    try:
        yield
    finally:
        _runs.reset(token)


def may_run() -> bool:
    """Return whether a learner's code may be run here."""
    return _runs.get()


class CodeFault(Exception):
    """What is wrong with a learner's code, in one sentence for the learner."""


class _Stop(BaseException):
    """Ends the learner's code; no `except Exception` of theirs catches it."""


class _Budget:
    """Counts ticks and watches the clock and the depth of calls."""

    def __init__(self, ticks: int, seconds: float) -> None:
        self.ticks = ticks
        self.deadline = time.perf_counter() + seconds
        self.depth = 0

    def tick(self) -> bool:
        self.ticks -= 1
        if self.ticks < 0 or time.perf_counter() > self.deadline:
            raise _Stop("it takes too long: is there a loop that never ends")
        return True

    def enter(self) -> None:
        self.depth += 1
        if self.depth > _DEPTH:
            raise _Stop("it calls itself again and again without coming to an end")
        self.tick()

    def leave(self) -> None:
        self.depth -= 1

    def each(self, things: Iterable[Any]) -> Iterator[Any]:
        for thing in things:
            self.tick()
            yield thing


# ------------------------------------------------------------------------------------- arithmetic kept to a size
def _too_big() -> _Stop:
    return _Stop("it builds a number, a text or a list that grows without measure")


def _bits(value: Any) -> int:
    return value.bit_length() if isinstance(value, int) else 0


def _length(value: Any) -> int:
    return len(value) if isinstance(value, (str, list, tuple, bytes)) else 0


def _add(a: Any, b: Any) -> Any:
    if _length(a) + _length(b) > _SIZE:
        raise _too_big()
    return operator.add(a, b)


def _mul(a: Any, b: Any) -> Any:
    if _bits(a) + _bits(b) > _BITS:
        raise _too_big()
    if isinstance(b, int) and _length(a) * b > _SIZE or isinstance(a, int) and _length(b) * a > _SIZE:
        raise _too_big()
    return operator.mul(a, b)


def _power(a: Any, b: Any, *modulus: Any) -> Any:
    if not modulus and isinstance(b, int) and _bits(a) * abs(b) > _BITS:
        raise _too_big()
    return pow(a, b, *modulus)


def _shift(a: Any, b: Any) -> Any:
    if isinstance(b, int) and b > _BITS:
        raise _too_big()
    return operator.lshift(a, b)


def _in_place_add(a: Any, b: Any) -> Any:
    if _length(a) + _length(b) > _SIZE:
        raise _too_big()
    return operator.iadd(a, b)


def _range(*ends: Any) -> range:
    numbers = range(*ends)
    try:
        size = len(numbers)
    except OverflowError:
        size = _SIZE + 1
    if size > _SIZE:
        raise _too_big()
    return numbers


def _small(function: Callable[..., Any]) -> Callable[..., Any]:
    def kept(*numbers: Any) -> Any:
        if any(isinstance(n, int) and n > 1000 for n in numbers):
            raise _too_big()
        return function(*numbers)

    return kept


_OPERATORS: dict[type[ast.operator], str] = {
    ast.Add: "__add__", ast.Mult: "__mul__", ast.Pow: "__power__", ast.LShift: "__shift__",
}
_IN_PLACE = {**_OPERATORS, ast.Add: "__iadd__"}

_MATH = {name: value for name, value in vars(math).items() if not name.startswith("_")}
_MATH |= {name: _small(_MATH[name]) for name in ("factorial", "comb", "perm")}

_OFFERED = (
    "abs all any bool dict divmod enumerate filter float frozenset int isinstance len list map max min reversed round set "
    "slice sorted str sum tuple zip ArithmeticError AssertionError Exception IndexError KeyError "
    "LookupError OverflowError RuntimeError StopIteration TypeError ValueError ZeroDivisionError"
).split()


def _import(name: str, *_: Any) -> Any:
    if name != "math":
        raise ImportError(f"only math can be imported here, not {name}")
    return SimpleNamespace(**_MATH)  # a fresh one: a learner may write to it


def _names(budget: _Budget) -> dict[str, Any]:
    """Return the globals that the learner's code sees. `print` is swallowed: it would flood the page."""
    offered = {name: getattr(builtins, name) for name in _OFFERED if hasattr(builtins, name)}
    offered |= {"range": _range, "pow": _power, "print": lambda *_, **__: None, "__import__": _import}
    offered["__build_class__"] = builtins.__build_class__
    helpers = {
        "__tick__": budget.tick, "__enter__": budget.enter, "__leave__": budget.leave, "__each__": budget.each,
        "__add__": _add, "__mul__": _mul, "__power__": _power, "__shift__": _shift, "__iadd__": _in_place_add,
    }
    return {"__builtins__": offered, "__name__": "your_function", **helpers}


# ---------------------------------------------------------------------------------------------------- reading
def _measured(source: str) -> None:
    """Refuse source whose nesting could exhaust the parser's own stack, which in a browser is small."""
    depth = run = 0
    with contextlib.suppress(tokenize.TokenError, SyntaxError):
        for token in tokenize.generate_tokens(io.StringIO(source).readline):
            run = 0 if token.type == tokenize.NEWLINE else run + 1
            depth += (token.string in "([{") - (token.string in ")]}") if token.type == tokenize.OP else 0
            depth += (token.type == tokenize.INDENT) - (token.type == tokenize.DEDENT)
            if depth > 40 or run > 500:
                raise CodeFault(f"Line {token.start[0]}: this is nested too deep or too long; split it into smaller steps.")


def _parsed(source: str) -> ast.Module:
    if len(source) > MAX_SOURCE:
        raise CodeFault("The text is too long for one small function; keep the stub and fill in its blanks.")
    _measured(source)
    try:
        tree = ast.parse(source, _FILE)
    except SyntaxError as error:
        raise CodeFault(f"Line {error.lineno or 1}: Python cannot read this ({error.msg}).") from None
    except (ValueError, RecursionError, MemoryError):
        raise CodeFault("Python cannot read this text at all; start again from the stub.") from None
    for node in ast.walk(tree):
        _permitted(node)
    return tree


def _permitted(node: ast.AST) -> None:
    line = getattr(node, "lineno", 1)
    names = [getattr(node, "id", None), getattr(node, "attr", None), getattr(node, "arg", None), getattr(node, "name", None)]
    names += [getattr(node, "asname", None), *(node.names if isinstance(node, (ast.Global, ast.Nonlocal)) else ())]
    if any(isinstance(name, str) and name.startswith("__") for name in names):
        raise CodeFault(f"Line {line}: names that begin with two underscores are not available here.")
    if isinstance(node, ast.Attribute) and node.attr.startswith("_"):
        raise CodeFault(f"Line {line}: attributes that begin with an underscore are not available here.")
    if isinstance(node, (ast.AsyncFunctionDef, ast.AsyncFor, ast.AsyncWith, ast.Await)):
        raise CodeFault(f"Line {line}: nothing here needs async; write a plain function.")


class _Counted(ast.NodeTransformer):
    """Put the ticks into a learner's syntax tree."""

    def _call(self, name: str, *arguments: ast.expr) -> ast.Call:
        return ast.Call(ast.Name(name, ast.Load()), list(arguments), [])

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        yields = _yields(node)
        self.generic_visit(node)
        head = node.body[:1] if ast.get_docstring(node, clean=False) is not None else []
        rest = node.body[len(head):]
        if yields:  # a generator's body runs in slices, so its depth cannot be counted by entering and leaving
            node.body = [*head, ast.Expr(self._call("__tick__")), *rest]
        else:
            body: list[ast.stmt] = rest or [ast.Pass()]
            node.body = [*head, ast.Expr(self._call("__enter__")), ast.Try(body, [], [], [ast.Expr(self._call("__leave__"))])]
        return node

    def visit_Lambda(self, node: ast.Lambda) -> ast.AST:
        self.generic_visit(node)
        node.body = ast.BoolOp(ast.And(), [self._call("__tick__"), node.body])
        return node

    def visit_While(self, node: ast.While) -> ast.AST:
        self.generic_visit(node)
        node.test = ast.BoolOp(ast.And(), [self._call("__tick__"), node.test])
        return node

    def visit_For(self, node: ast.For) -> ast.AST:
        self.generic_visit(node)
        node.iter = self._call("__each__", node.iter)
        return node

    def visit_comprehension(self, node: ast.comprehension) -> ast.AST:
        self.generic_visit(node)
        node.iter = self._call("__each__", node.iter)
        return node

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        name = _OPERATORS.get(type(node.op))
        return ast.copy_location(self._call(name, node.left, node.right), node) if name else node

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        self.generic_visit(node)
        name = _IN_PLACE.get(type(node.op))
        if name and isinstance(node.target, ast.Name):
            value = self._call(name, ast.Name(node.target.id, ast.Load()), node.value)
            return ast.copy_location(ast.Assign([node.target], value), node)
        return node


def _yields(function: ast.FunctionDef) -> bool:
    """Return whether the function itself (not one defined inside it) is a generator."""
    waiting: list[ast.AST] = list(function.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, (ast.Yield, ast.YieldFrom)):
            return True
        if not isinstance(node, (ast.FunctionDef, ast.Lambda, ast.ClassDef)):
            waiting.extend(ast.iter_child_nodes(node))
    return False


def _compiled(source: str) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of an odd escape, say: nobody sees where Python would print it
        return _counted(source)


def _counted(source: str) -> Any:
    tree = _parsed(source)
    try:
        counted = _Counted().visit(tree)
        return compile(ast.fix_missing_locations(counted), _FILE, "exec")
    except SyntaxError as error:
        raise CodeFault(f"Line {error.lineno or 1}: Python cannot read this ({error.msg}).") from None
    except (ValueError, RecursionError, MemoryError):
        raise CodeFault("Python cannot read this text at all; start again from the stub.") from None


# ---------------------------------------------------------------------------------------------------- running
def run(source: str, name: str, cases: Sequence[Sequence[Any]], ticks: int = TICKS, seconds: float = SECONDS) -> list[Any]:
    """Return what the function `name` of `source` gives for each of `cases` (lists of arguments).

    `ticks` and `seconds` are for all cases together. Raises CodeFault, with a sentence for the learner, for anything that
    goes wrong; and RuntimeError inside `code_never_runs`.
    """
    if not may_run():
        raise RuntimeError("A learner's code was about to run where none may.")
    code = _compiled(source)
    budget = _Budget(ticks, seconds)
    names = _names(budget)
    _guarded(budget, partial(exec, code, names))
    function = names.get(name)
    if not isinstance(function, FunctionType):
        raise CodeFault(f"There is no function named {name}; keep the `def` line of the stub.")
    most, optional = function.__code__.co_argcount, len(function.__defaults__ or ())
    results = []
    for case in cases:
        if not most - optional <= len(case) <= most:
            raise CodeFault(f"{name} does not take what it is given; keep the `def` line of the stub.")
        results.append(_guarded(budget, partial(function, *copy.deepcopy(list(case)))))
    return results


def _guarded(budget: _Budget, action: Callable[[], Any]) -> Any:
    """Return what `action` returns; whatever it raises becomes a CodeFault that names the line."""
    budget.depth = 0
    try:
        return action()
    except _Stop as stop:
        raise CodeFault(f"Line {_line(stop)}: {stop}.") from None
    except RecursionError as error:
        raise CodeFault(f"Line {_line(error)}: it calls itself again and again without coming to an end.") from None
    except MemoryError as error:
        raise CodeFault(f"Line {_line(error)}: it builds something that does not fit into memory.") from None
    except Exception as error:
        raise CodeFault(f"Line {_line(error)}: {type(error).__name__}{_said(error)}.") from None


def _said(error: Exception) -> str:
    try:
        what = " ".join(str(error).split())[:100].rstrip(".")
    except Exception:  # its argument may be a number with too many digits to write
        return ""
    return f": {what}" if what else ""


def _line(error: BaseException) -> int:
    line, trace = 1, error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == _FILE:
            line = trace.tb_lineno
        trace = trace.tb_next
    return line
