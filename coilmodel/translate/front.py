"""From the kernel's Python to the typed language of tree.py.

What is read is the small Python that numba and a plain interpreter run alike: floats, whole numbers and flat buffers of floats;
assignments, `while`, `for j in range(...)`, `if`, `break`, `continue`, `return`; arithmetic, comparisons, values by condition; a
few functions of `math`, abs, min, max; and calls of functions of the same kind, which give nothing, a number or a tuple of
numbers. Anything else stops with a sentence that names its line.

A parameter's kind is what its annotation says (float, int, bool; a list or tuple is a buffer); without one, what is done with
it. A name is a whole number if everything assigned to it is one, else a float. Two liberties are taken: `x ** 2` becomes x * x,
and `math.floor` gives a float (write int(math.floor(x)) where a whole number is needed).

>>> from coilmodel.translate.front import functions_in, program
>>> program(functions_in("def half(n: int) -> float:\\n    return n / 2")["half"]).functions[0].body
(Return(values=(Binary(op='/', left=Convert(value=Name(name='n', kind='whole'), kind='real'), right=Number(value=2.0, \
kind='real'), kind='real'),)),)
"""

from __future__ import annotations

import ast
import inspect
import math
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import FunctionType, ModuleType
from typing import Any

from coilmodel.translate.tree import (
    BUFFER,
    REAL,
    TRUTH,
    WHOLE,
    Binary,
    Both,
    Break,
    Call,
    Choice,
    Compare,
    Continue,
    Convert,
    Element,
    Expression,
    For,
    Function,
    If,
    Known,
    Length,
    Name,
    Negative,
    Not,
    Number,
    Program,
    Return,
    Run,
    Set,
    Square,
    Statement,
    Store,
    While,
    widest,
)

ARITHMETIC = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.FloorDiv: "//", ast.Mod: "%", ast.BitAnd: "&"}
WHOLE_ONLY = ("//", "%", "&")
COMPARISONS = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}
OF_MATH = {math.sqrt: "sqrt", math.floor: "floor", math.ceil: "ceil", math.fabs: "size"}  # others round as the host likes
SIGNS = {"float": REAL, "int": WHOLE, "bool": TRUTH}
ROWS = ("list", "tuple", "Sequence", "MutableSequence", "array")


@dataclass(frozen=True, eq=False)
class Source:
    """A function's own text, and what the names outside it mean (the module's globals)."""

    tree: ast.FunctionDef
    names: Mapping[str, Any]


def source_of(function: Callable[..., Any]) -> Source:
    """Return the source of a function of a module, with the line numbers of its file."""
    function = getattr(function, "py_func", function)  # what numba has compiled
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    ast.increment_lineno(tree, function.__code__.co_firstlineno - 1)
    assert isinstance(tree.body[0], ast.FunctionDef)
    return Source(tree.body[0], function.__globals__)


def functions_in(text: str) -> dict[str, Source]:
    """Return the functions of a module that is given as text, by name."""
    names: dict[str, Any] = {}
    exec(compile(text, "<text>", "exec"), names)
    found = {node.name: Source(node, names) for node in ast.parse(text).body if isinstance(node, ast.FunctionDef)}
    names |= found
    return found


def program(*roots: Source | Callable[..., Any]) -> Program:
    """Return the program of the functions `roots` and of all that they call.

    Raises ValueError, in a sentence that names the line, for what is not in the part of Python that is read here.
    """
    readers: dict[str, _Reader] = {}

    def add(source: Source, callers: tuple[str, ...]) -> None:
        name = source.tree.name
        if name in callers:
            raise ValueError(f"line {source.tree.lineno} of {name}: it calls itself, by way of {' and '.join(callers)}; "
                             "functions that do are not translated.")
        if name in readers:
            if readers[name].source.tree.lineno != source.tree.lineno or readers[name].source.names is not source.names:
                raise ValueError(f"Two functions are called {name}; in one program each needs a name of its own.")
            return
        reader = _Reader(source, readers)
        for called in reader.called():
            add(called, (*callers, name))
        reader.begin()
        readers[name] = reader  # after those that it calls

    sources = [root if isinstance(root, Source) else source_of(root) for root in roots]
    for source in sources:
        add(source, ())
        readers[source.tree.name].is_root()
    before = None
    while before != (before := [reader.kinds() for reader in readers.values()]):
        functions = tuple([reader.read() for reader in readers.values()])
    return Program(functions, tuple(source.tree.name for source in sources))


class _Reader:
    """Reads one function again and again, with what is known of all names' kinds, until that no longer changes."""

    def __init__(self, source: Source, others: Mapping[str, _Reader]) -> None:
        self.source, self.others = source, others
        self.tree = source.tree
        rules = self.tree.args
        if rules.posonlyargs or rules.kwonlyargs or rules.vararg or rules.kwarg or rules.defaults or self.tree.decorator_list:
            raise self.unknown(self.tree, "only plain parameters are read, without defaults, and no decorators")
        self.parameters = [argument.arg for argument in rules.args]
        self.signed = {argument.arg: self._sign(argument.annotation) for argument in rules.args if argument.annotation}
        written = [node.id for node in ast.walk(self.tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)]
        self.names = dict.fromkeys([*self.parameters, *written], TRUTH)  # whatever is written in a function is its own
        self.names |= self.signed
        self.given = 0
        self.results: list[str] = []
        self.extra: dict[str, str] = {}

    def begin(self) -> None:
        """Find what can be said before anything is read; the functions that this one calls have begun."""
        self.names |= {name: BUFFER for name in self._buffers() if name not in self.signed}
        self.given = self._given()
        self.results = self._signed_results() or [TRUTH] * self.given

    # -------------------------------------------------------------------------------------------------- what it is
    def _sign(self, annotation: ast.expr) -> str:
        match annotation:
            case ast.Name(id=name) if name in SIGNS:
                return SIGNS[name]
            case ast.Subscript(value=ast.Name(id=name)) | ast.Name(id=name) if name in ROWS:
                return BUFFER
            case ast.Constant(value=str(text)):
                return self._sign(ast.parse(text, mode="eval").body)
        raise self.unknown(annotation, "a parameter is a float, an int, a bool, or a list or tuple of floats")

    def _buffers(self) -> set[str]:
        """Return the parameters that are used as only a buffer can be."""
        found = set()
        for node in ast.walk(self.tree):
            match node:
                case ast.Subscript(value=ast.Name(id=name)) | ast.Call(func=ast.Name(id="len"), args=[ast.Name(id=name)]):
                    found.add(name)
                case ast.Assign(targets=[ast.Tuple()], value=ast.Name(id=name)):
                    found.add(name)
                case ast.Call() if (called := self._function(node)) is not None:
                    found |= {given.id for given, name in zip(node.args, called.parameters)
                              if isinstance(given, ast.Name) and called.names[name] == BUFFER}
        return found & set(self.parameters)

    def _given(self) -> int:
        """Return how many numbers the function gives."""
        counts = set()
        for node in ast.walk(self.tree):
            if isinstance(node, (ast.FunctionDef, ast.Lambda)) and node is not self.tree:
                raise self.unknown(node, "a function within a function")
            if isinstance(node, ast.Return):
                counts.add(self._count(node.value))
        if len(counts) > 1:
            raise self.unknown(self.tree, "its returns give different numbers of values")
        return counts.pop() if counts else 0

    def _count(self, value: ast.expr | None) -> int:
        if value is None or (isinstance(value, ast.Constant) and value.value is None):
            return 0
        if isinstance(value, ast.Tuple):
            return len(value.elts)
        if isinstance(value, ast.Call) and (called := self._function(value)):
            return called.given
        return 1

    def _signed_results(self) -> list[str]:
        match self.tree.returns:
            case None | ast.Constant(value=None):
                return []
            case ast.Subscript(value=ast.Name(id="tuple"), slice=ast.Tuple(elts=parts)):
                kinds = [self._sign(part) for part in parts]
            case one:
                kinds = [self._sign(one)]
        if len(kinds) != self.given or BUFFER in kinds:
            raise self.unknown(self.tree, f"it says that it gives {ast.unparse(self.tree.returns)}, and returns otherwise")
        return kinds

    def is_root(self) -> None:
        """Note that the function is called from outside: a parameter that says nothing and is used as a number is a float."""
        read = {node.id for node in ast.walk(self.tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
        for name in self.parameters:
            if name not in self.signed and self.names[name] != BUFFER:
                if name not in read:
                    raise self.unknown(self.tree, f"nothing says what the parameter {name} is; annotate it")
                self.names[name] = REAL

    def called(self) -> Iterator[Source]:
        """Yield the sources of the functions that this one calls."""
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Call):
                meaning = self.meaning(node.func)
                if isinstance(meaning, Source):
                    yield meaning
                elif _is_function(meaning):
                    yield source_of(meaning)

    def kinds(self) -> tuple[Any, ...]:
        """Return all that is known of kinds, to see whether it still changes."""
        return dict(self.names), list(self.results)

    def read(self) -> Function:
        """Return the function as far as it is understood by now."""
        self.extra = {}
        body = self.statements(self.tree.body)
        if self.given and not _leaves(body):
            raise self.unknown(self.tree, "it can end without a return")
        parameters = tuple((name, self.names[name]) for name in self.parameters)
        others = {name: kind for name, kind in self.names.items() if name not in self.parameters} | self.extra
        return Function(self.tree.name, parameters, tuple(self.results), tuple(others.items()), tuple(body))

    # --------------------------------------------------------------------------------------------------- meanings
    def meaning(self, node: ast.expr) -> Any:
        """Return what a name outside the function means, or None: a number, a tuple, a function, a module."""
        if isinstance(node, ast.Name) and node.id not in self.names:
            return self.source.names.get(node.id, {"abs": abs, "min": min, "max": max, "len": len, "float": float, "int": int,
                                                   "bool": bool}.get(node.id))
        if isinstance(node, ast.Attribute):
            module = self.meaning(node.value)
            return getattr(module, node.attr, None) if isinstance(module, ModuleType) else None
        return None

    def _function(self, node: ast.Call) -> _Reader | None:
        meaning = self.meaning(node.func)
        name = meaning.tree.name if isinstance(meaning, Source) else meaning.__name__ if _is_function(meaning) else None
        return self.others.get(name) if name else None

    def note(self, name: str, kind: str, node: ast.AST) -> None:
        """Widen what is known of a name by a value that it is given."""
        known = self.names.get(name, TRUTH)
        if BUFFER in (known, kind):
            raise self.unknown(node, f"{name} is a buffer in one place and a number in another")
        wider = widest(known, kind)
        if name in self.signed and wider != known:
            raise self.unknown(node, f"the parameter {name} is {known} and is given a {kind} number here")
        self.names[name] = wider

    def spare(self, kind: str) -> str:
        """Return a name of this kind that the text does not use."""
        number = len(self.extra) + 1
        while f"t{number}_" in self.names or f"t{number}_" in self.extra:
            number += 1
        self.extra[f"t{number}_"] = kind
        return f"t{number}_"

    def unknown(self, node: ast.AST, why: str = "") -> ValueError:
        """Return the error for something that is not read here."""
        text = ast.unparse(node).split("\n")[0]
        return ValueError(f"line {getattr(node, 'lineno', '?')} of {self.tree.name}: {text[:80]!r} is not in the part of Python "
                          f"that coilmodel/translate reads{f' ({why})' if why else ''}; write it plainer, or teach it there.")

    # ------------------------------------------------------------------------------------------------- expressions
    def value(self, node: ast.expr) -> Expression:
        """Return an expression that gives one number."""
        match node:
            case ast.Constant(value=bool() | int() | float() as number):
                return _number(number)
            case ast.Name(id=name) if name in self.names:
                if self.names[name] == BUFFER:
                    raise self.unknown(node, "a buffer where a number is wanted")
                return Name(name, self.names[name])
            case ast.Name() | ast.Attribute():
                known = self.meaning(node)
                if isinstance(known, (bool, int, float)):
                    return _number(known)
                raise self.unknown(node, "no number of this name is known here")
            case ast.Subscript():
                return self._element(node)
            case ast.UnaryOp(op=ast.USub()):
                value = self._at_least_whole(self.value(node.operand))
                return _number(-value.value) if isinstance(value, Number) else Negative(value, value.kind)
            case ast.UnaryOp(op=ast.UAdd()):
                return self._at_least_whole(self.value(node.operand))
            case ast.UnaryOp(op=ast.Not()) | ast.Compare():
                return self.truth(node)
            case ast.BoolOp():
                for part in node.values:
                    if self.value(part).kind != TRUTH:
                        raise self.unknown(part, "and, or give one of their sides; as a value they are read of comparisons only")
                return self.truth(node)
            case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=2)):
                value = self._at_least_whole(self.value(node.left))
                return Square(value, value.kind)
            case ast.BinOp() if type(node.op) in ARITHMETIC:
                return self._arithmetic(node, ARITHMETIC[type(node.op)])
            case ast.IfExp():
                yes, no = self.value(node.body), self.value(node.orelse)
                kind = widest(yes.kind, no.kind)
                return Choice(self.truth(node.test), self.as_kind(yes, kind), self.as_kind(no, kind), kind)
            case ast.Call(keywords=[]):
                return self._call(node)
        raise self.unknown(node)

    def real(self, node: ast.expr) -> Expression:
        """Return an expression as a float."""
        return self.as_kind(self.value(node), REAL)

    def whole(self, node: ast.expr, why: str) -> Expression:
        """Return an expression that must be a whole number."""
        value = self._at_least_whole(self.value(node))
        if value.kind != WHOLE:
            raise self.unknown(node, why)
        return value

    def truth(self, node: ast.expr) -> Expression:
        """Return an expression as a test: a number holds where it is not zero."""
        match node:
            case ast.BoolOp():
                word = "and" if isinstance(node.op, ast.And) else "or"
                sides = [self.truth(value) for value in node.values]
                together = sides[-1]
                for side in reversed(sides[:-1]):
                    together = Both(word, side, together)
                return together
            case ast.UnaryOp(op=ast.Not()):
                return Not(self.truth(node.operand))
            case ast.Compare():
                return self._compare(node)
        return self.as_kind(self.value(node), TRUTH)

    def as_kind(self, value: Expression, kind: str) -> Expression:
        """Return the value as this kind."""
        if value.kind == kind:
            return value
        if isinstance(value, Number) and kind == REAL:
            return Number(float(value.value), REAL)
        if isinstance(value, Number) and kind == WHOLE and value.kind == TRUTH:
            return Number(int(value.value), WHOLE)
        return Convert(value, kind)

    def _at_least_whole(self, value: Expression) -> Expression:
        return self.as_kind(value, widest(value.kind, WHOLE))

    def _element(self, node: ast.Subscript) -> Expression:
        buffer = self._buffer(node.value)
        if buffer is None:
            row = self.meaning(node.value)
            if isinstance(row, tuple) and isinstance(node.slice, ast.Constant) and isinstance(node.slice.value, int):
                return _number(row[node.slice.value])
            raise self.unknown(node, "only a buffer's numbers are read by place, and a constant tuple's by a constant")
        index = self.whole(node.slice, "a place in a buffer is a whole number")
        if isinstance(index, Number) and index.value < 0:
            raise self.unknown(node, "places are counted from the front")
        return Element(buffer, index)

    def _buffer(self, node: ast.expr) -> str | None:
        return node.id if isinstance(node, ast.Name) and self.names.get(node.id) == BUFFER else None

    def _arithmetic(self, node: ast.BinOp, op: str) -> Expression:
        left, right = self.value(node.left), self.value(node.right)
        kind = REAL if op == "/" else widest(left.kind, right.kind, WHOLE)
        if op in WHOLE_ONLY and kind != WHOLE:
            raise self.unknown(node, f"{op} is read of whole numbers only")
        return Binary(op, self.as_kind(left, kind), self.as_kind(right, kind), kind)

    def _compare(self, node: ast.Compare) -> Expression:
        sides = [node.left, *node.comparators]
        for middle in sides[1:-1]:
            if any(isinstance(inner, ast.Call) and self._function(inner) for inner in ast.walk(middle)):
                raise self.unknown(node, "the middle of a chain would be called twice")
        pairs: list[Expression] = []
        for one, op, other in zip(sides, node.ops, sides[1:]):
            if type(op) not in COMPARISONS:
                raise self.unknown(node)
            left, right = self.value(one), self.value(other)
            kind = widest(left.kind, right.kind, WHOLE)
            pairs.append(Compare(COMPARISONS[type(op)], self.as_kind(left, kind), self.as_kind(right, kind)))
        together = pairs[-1]
        for pair in reversed(pairs[:-1]):
            together = Both("and", pair, together)
        return together

    def _call(self, node: ast.Call) -> Expression:
        called = self._function(node)
        if called is not None:
            if called.given != 1:
                raise self.unknown(node, f"{called.tree.name} gives {called.given} numbers, and one is wanted here")
            return Call(called.tree.name, self.arguments(node, called), called.results[0])
        meaning = self.meaning(node.func)
        match meaning, node.args:
            case _, [ast.Name() as row] if meaning is len:
                buffer = self._buffer(row)
                known = self.meaning(row)
                if buffer is not None:
                    return Length(buffer)
                if isinstance(known, tuple):
                    return Number(len(known), WHOLE)
            case _, [one] if meaning in (float, int, bool):
                kind = {float: REAL, int: WHOLE, bool: TRUTH}[meaning]
                return self.truth(one) if kind == TRUTH else self.as_kind(self.value(one), kind)
            case _, [one] if meaning is abs:
                value = self._at_least_whole(self.value(one))
                return Known("size", value) if value.kind == REAL else Binary("greatest", value, Negative(value, WHOLE), WHOLE)
            case _, [first, second, *more] if meaning in (min, max):
                values = [self.value(one) for one in (first, second, *more)]
                kind = widest(WHOLE, *(value.kind for value in values))
                chosen = self.as_kind(values[0], kind)
                for value in values[1:]:
                    chosen = Binary("least" if meaning is min else "greatest", chosen, self.as_kind(value, kind), kind)
                return chosen
            case _, [one] if meaning in OF_MATH:
                return Known(OF_MATH[meaning], self.real(one))
        raise self.unknown(node)

    def arguments(self, node: ast.Call, called: _Reader) -> tuple[Expression | str, ...]:
        """Return what a function of the program is given; notes the kinds of those of its parameters that say nothing."""
        if len(node.args) != len(called.parameters) or node.keywords:
            raise self.unknown(node, f"{called.tree.name} takes {len(called.parameters)} values, by place")
        given: list[Expression | str] = []
        for argument, name in zip(node.args, called.parameters, strict=True):
            if called.names[name] == BUFFER:
                buffer = self._buffer(argument)
                if buffer is None:
                    raise self.unknown(node, f"{called.tree.name} wants a buffer for {name}")
                given.append(buffer)
                continue
            value = self.value(argument)
            if name not in called.signed:
                called.note(name, value.kind, node)
            elif widest(value.kind, called.names[name]) != called.names[name]:
                raise self.unknown(node, f"{name} of {called.tree.name} is {called.names[name]}, not {value.kind}")
            given.append(self.as_kind(value, called.names[name]))
        return tuple(given)

    # --------------------------------------------------------------------------------------------------- statements
    def statements(self, nodes: Sequence[ast.stmt]) -> list[Statement]:
        """Return statements; one of Python's may become several."""
        return [one for node in nodes for one in self.statement(node)]

    def statement(self, node: ast.stmt) -> list[Statement]:
        """Return what one statement of Python becomes."""
        match node:
            case ast.Pass() | ast.Expr(value=ast.Constant(value=str())):
                return []
            case ast.Assign(targets=targets, value=value):
                return self._assign(node, targets, value)
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value, annotation=annotation):
                self.note(name, self._sign(annotation), node)
                return self._assign(node, [node.target], value)
            case ast.AugAssign(target=target, op=op, value=value):
                return self._put(target, self.value(ast.copy_location(ast.BinOp(target, op, value), node)))
            case ast.Expr(value=ast.Call() as call) if (called := self._function(call)) is not None:
                spare = tuple(self.spare(kind) for kind in called.results)
                return [Run(called.tree.name, self.arguments(call, called), spare)]
            case ast.If():
                yes, no = self.statements(node.body), self.statements(node.orelse)
                return [If(self.truth(node.test), tuple(yes), tuple(no))]
            case ast.While(orelse=[]):
                endless = isinstance(node.test, ast.Constant) and node.test.value
                return [While(None if endless else self.truth(node.test), tuple(self.statements(node.body)))]
            case ast.For(target=ast.Name(id=name), iter=ast.Call(func=ast.Name(id="range"), args=[*bounds], keywords=[]),
                         orelse=[]) if len(bounds) in (1, 2):
                self.note(name, WHOLE, node)
                if self.names[name] != WHOLE:
                    raise self.unknown(node, f"{name} is a float elsewhere")
                of_range = "the bounds of a range are whole numbers"
                first = self.whole(bounds[0], of_range) if len(bounds) == 2 else Number(0, WHOLE)
                counter, bound = self.spare(WHOLE), self.spare(WHOLE)
                body = tuple(self.statements(node.body))
                return [Set(bound, self.whole(bounds[-1], of_range)), For(name, counter, first, bound, body)]
            case ast.Break():
                return [Break()]
            case ast.Continue():
                return [Continue()]
            case ast.Return():
                return self._return(node)
        raise self.unknown(node)

    def _assign(self, node: ast.stmt, targets: Sequence[ast.expr], value: ast.expr) -> list[Statement]:
        if len(targets) == 1 and isinstance(targets[0], ast.Tuple):
            return self._assign_several(node, targets[0].elts, value)
        given = self.value(value)
        if len(targets) == 1 or isinstance(given, Number):
            return [one for target in targets for one in self._put(target, given)]
        spare = self.spare(given.kind)  # a = b = value: worked out once
        return [Set(spare, given), *(one for target in targets for one in self._put(target, Name(spare, given.kind)))]

    def _assign_several(self, node: ast.stmt, targets: Sequence[ast.expr], value: ast.expr) -> list[Statement]:
        row = self._buffer(value)
        if row is not None:  # the unpacking of the parameters
            return [one for place, target in enumerate(targets) for one in self._put(target, Element(row, Number(place, WHOLE)))]
        if isinstance(value, ast.Call) and (called := self._function(value)) is not None:
            if called.given != len(targets):
                raise self.unknown(node, f"{called.tree.name} gives {called.given} numbers")
            spares = [self.spare(kind) for kind in called.results]
            done: list[Statement] = [Run(called.tree.name, self.arguments(value, called), tuple(spares))]
            values: list[Expression] = [Name(spare, self.extra[spare]) for spare in spares]
        else:
            known = self.meaning(value)
            if isinstance(known, tuple):
                given: list[Expression] = [_number(number) for number in known]
            elif isinstance(value, ast.Tuple):
                given = [self.value(one) for one in value.elts]
            else:
                raise self.unknown(node)
            if len(given) != len(targets):
                raise self.unknown(node, f"{len(given)} values for {len(targets)} names")
            done, values = [], []  # all values are worked out before any name changes
            for one in given:
                if isinstance(one, Number):
                    values.append(one)
                else:
                    spare = self.spare(one.kind)
                    done.append(Set(spare, one))
                    values.append(Name(spare, one.kind))
        return [*done, *(one for target, given_to_it in zip(targets, values) for one in self._put(target, given_to_it))]

    def _put(self, target: ast.expr, value: Expression) -> list[Statement]:
        if isinstance(target, ast.Subscript):
            place = self._element(target)
            if not isinstance(place, Element):
                raise self.unknown(target, "a constant is not written")
            return [Store(place.buffer, place.index, self.as_kind(value, REAL))]
        if not isinstance(target, ast.Name):
            raise self.unknown(target)
        self.note(target.id, value.kind, target)
        return [Set(target.id, self.as_kind(value, self.names[target.id]))]

    def _return(self, node: ast.Return) -> list[Statement]:
        if self.given == 0:
            return [Return(())]
        assert node.value is not None
        if isinstance(node.value, ast.Call) and self.given > 1 and (called := self._function(node.value)) is not None:
            spares = [self.spare(kind) for kind in called.results]
            done: list[Statement] = [Run(called.tree.name, self.arguments(node.value, called), tuple(spares))]
            values: list[Expression] = [Name(spare, self.extra[spare]) for spare in spares]
        else:
            parts = node.value.elts if isinstance(node.value, ast.Tuple) else [node.value]
            done, values = [], [self.value(part) for part in parts]
        signed = self.tree.returns is not None
        for place, value in enumerate(values):
            wider = widest(self.results[place], value.kind)
            if signed and wider != self.results[place]:
                raise self.unknown(node, f"{ast.unparse(self.tree.returns or node)} was promised, and this is {wider}")
            self.results[place] = wider
        return [*done, Return(tuple(self.as_kind(value, kind) for value, kind in zip(values, self.results)))]


def _number(value: float) -> Number:
    return Number(value, TRUTH if isinstance(value, bool) else WHOLE if isinstance(value, int) else REAL)


def _is_function(meaning: Any) -> bool:
    return isinstance(getattr(meaning, "py_func", meaning), FunctionType)


def _leaves(body: Sequence[Statement]) -> bool:
    """Say whether a row of statements never comes to its end."""
    match body[-1] if body else None:
        case Return():
            return True
        case If(yes=yes, no=no):
            return _leaves(yes) and _leaves(no)
        case While(test=None, body=inner):
            return not _breaks(inner)
    return False


def _breaks(body: Sequence[Statement]) -> bool:
    return any(isinstance(one, Break) or (isinstance(one, If) and (_breaks(one.yes) or _breaks(one.no))) for one in body)
