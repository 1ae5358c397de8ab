"""Turn the kernel's `advance` into C, so that numba's loop can be timed against the very same loop compiled by gcc.

A copy written by hand would drift from the kernel with the first change to it. So the C text is made from the Python text each
time, through Python's own syntax tree. Only what the kernel uses is known here: assignments, `while`, `for j in range(n)`,
`if`, arithmetic, comparisons and a few functions of `math`. Anything else stops with a sentence that names its line.

Types are inferred: a name is a whole number (int64_t) if everything assigned to it is one, else a double.

>>> print(translate(ast.parse("def f(p, out):\\n    a = 2\\n    out[0] = a / 4 + p[0]"), {}))
void f(const double *p, double *out, int64_t len_out) {
  int64_t a = 0;
  a = INT64_C(2);
  out[INT64_C(0)] = (((double)(a) / (double)(INT64_C(4))) + p[INT64_C(0)]);
}
"""

from __future__ import annotations

import ast
import ctypes
import inspect
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from coilmodel import kernel

HEAD = "#include <math.h>\n#include <stdint.h>\n\n"
OPERATORS = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*"}
COMPARISONS = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="}
IN_MATH_H = ("sin", "cos", "sqrt", "floor", "exp", "log")
WHOLE, REAL = "int64_t", "double"
TAKEN = frozenset("auto break case char const continue default do double else enum extern float for goto if inline int long "
                  "register restrict return short signed sizeof static struct switch typedef union unsigned void volatile "
                  "while".split())


class Function:
    """One Python function on its way into C: its arguments (tuple of floats first, then buffers), its names, its lines."""

    def __init__(self, tree: ast.FunctionDef, constants: dict[str, float]) -> None:
        self.tree = tree
        self.constants = constants
        self.tuple_argument, *self.buffers = [argument.arg for argument in tree.args.args]
        self.types: dict[str, str] = {}
        self.temporaries = 0
        body = tree.body
        self.body = body[1:] if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant) else body

    # ------------------------------------------------------------------------------------------------ types
    def infer(self) -> None:
        """Find the type of every name: whole until something real is assigned to it; repeated until nothing changes."""
        before: dict[str, str] | None = None
        while before != self.types:
            before = dict(self.types)
            for node in ast.walk(self.tree):
                if isinstance(node, ast.Assign):
                    for target in node.targets:
                        self._note(target, node.value)
                elif isinstance(node, ast.AugAssign):
                    self._note(node.target, node.value)
                    if isinstance(node.op, ast.Div):
                        self._note(node.target, ast.Constant(1.0))
                elif isinstance(node, ast.For):
                    self._note(node.target, ast.Constant(1))

    def _note(self, target: ast.expr, value: ast.expr) -> None:
        if isinstance(target, ast.Tuple):
            given = value.elts if isinstance(value, ast.Tuple) else [ast.Constant(1.0)] * len(target.elts)
            for one, its_value in zip(target.elts, given, strict=True):
                self._note(one, its_value)
        elif isinstance(target, ast.Name) and self.types.get(target.id) != REAL:
            self.types[target.id] = self.type_of(value)

    def type_of(self, node: ast.expr) -> str:
        """Return the C type of an expression; a name not yet seen counts as whole until an assignment says otherwise."""
        match node:
            case ast.Constant():
                return REAL if isinstance(node.value, float) else WHOLE
            case ast.Name():
                known = self.constants.get(node.id)
                return self.types.get(node.id, WHOLE) if known is None else REAL if isinstance(known, float) else WHOLE
            case ast.BinOp(op=ast.Div()) | ast.Subscript() | ast.Attribute():
                return REAL
            case ast.BinOp():
                return REAL if REAL in (self.type_of(node.left), self.type_of(node.right)) else WHOLE
            case ast.UnaryOp():
                return self.type_of(node.operand)
            case ast.IfExp():
                return REAL if REAL in (self.type_of(node.body), self.type_of(node.orelse)) else WHOLE
            case ast.Compare() | ast.BoolOp():
                return WHOLE
            case ast.Call(func=ast.Name(id="len" | "int")):
                return WHOLE
            case ast.Call():
                return REAL
        raise self.unknown(node)

    # ------------------------------------------------------------------------------------------ expressions
    def say(self, node: ast.expr) -> str:
        """Return an expression in C, with every operation in brackets so that Python's order of work is kept."""
        match node:
            case ast.Constant(value=bool(number)):
                return str(int(number))
            case ast.Constant(value=int(number)):
                return f"INT64_C({number})"
            case ast.Constant(value=float(number)):
                return repr(number)
            case ast.Name():
                known = self.constants.get(node.id)
                return _named(node.id) if known is None else f"({known!r})"
            case ast.Attribute(value=ast.Name(id="math"), attr="inf"):
                return "INFINITY"
            case ast.Subscript(value=ast.Name(id=name)):
                return f"{name}[{self.say(node.slice)}]"
            case ast.UnaryOp(op=ast.USub()):
                return f"(-{self.say(node.operand)})"
            case ast.UnaryOp(op=ast.Not()):
                return f"(!{self.say(node.operand)})"
            case ast.BinOp(op=ast.Div()):
                return f"({self._real(node.left)} / {self._real(node.right)})"
            case ast.BinOp(op=ast.FloorDiv()):
                return f"({self.say(node.left)} / {self.say(node.right)})"  # only ever of lengths: both positive
            case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=2)):
                squared = self.say(node.left)
                return f"({squared} * {squared})"
            case ast.BinOp() if type(node.op) in OPERATORS:
                return f"({self.say(node.left)} {OPERATORS[type(node.op)]} {self.say(node.right)})"
            case ast.BoolOp():
                word = " && " if isinstance(node.op, ast.And) else " || "
                return "(" + word.join(self.say(value) for value in node.values) + ")"
            case ast.Compare():
                sides = [self.say(side) for side in (node.left, *node.comparators)]
                pairs = [f"({a} {COMPARISONS[type(op)]} {b})" for a, op, b in zip(sides, node.ops, sides[1:])]
                return pairs[0] if len(pairs) == 1 else "(" + " && ".join(pairs) + ")"
            case ast.IfExp():
                return f"({self.say(node.test)} ? {self.say(node.body)} : {self.say(node.orelse)})"
            case ast.Call(func=ast.Name(id="len"), args=[ast.Name(id=name)]):
                return f"len_{name}"
            case ast.Call(func=ast.Name(id="float"), args=[value]):
                return f"(double)({self.say(value)})"
            case ast.Call(func=ast.Name(id="int"), args=[value]):
                return f"(int64_t)({self.say(value)})"
            case ast.Call(func=ast.Attribute(value=ast.Name(id="math"), attr=name), args=[value]) if name in IN_MATH_H:
                return f"{name}({self.say(value)})"
        raise self.unknown(node)

    def _real(self, node: ast.expr) -> str:
        return self.say(node) if self.type_of(node) == REAL else f"(double)({self.say(node)})"

    # ------------------------------------------------------------------------------------------- statements
    def statements(self, nodes: Sequence[ast.stmt], depth: int) -> list[str]:
        """Return statements in C, one line each."""
        lines = []
        pad = "  " * depth
        for node in nodes:
            match node:
                case ast.Assign():
                    lines += [pad + text for text in self._assign(node)]
                case ast.AugAssign():
                    value = ast.BinOp(node.target, node.op, node.value)
                    ast.copy_location(value, node)
                    lines.append(f"{pad}{self.say(node.target)} = {self.say(value)};")
                case ast.While():
                    lines += [f"{pad}while ({self.say(node.test)}) {{", *self.statements(node.body, depth + 1), pad + "}"]
                case ast.For(target=ast.Name(id=name), iter=ast.Call(func=ast.Name(id="range"), args=[bound])):
                    j = _named(name)
                    head = f"{pad}for ({j} = 0; {j} < {self.say(bound)}; {j}++) {{"
                    lines += [head, *self.statements(node.body, depth + 1), pad + "}"]
                case ast.If():
                    lines += [f"{pad}if ({self.say(node.test)}) {{", *self.statements(node.body, depth + 1), pad + "}"]
                    if node.orelse:
                        lines += [pad + "else {", *self.statements(node.orelse, depth + 1), pad + "}"]
                case ast.Break():
                    lines.append(pad + "break;")
                case ast.Continue():
                    lines.append(pad + "continue;")
                case _:
                    raise self.unknown(node)
        return lines

    def _assign(self, node: ast.Assign) -> list[str]:
        target = node.targets[0]
        if not isinstance(target, ast.Tuple):
            value = self.say(node.value)
            return [f"{self.say(one)} = {value};" for one in node.targets]
        if isinstance(node.value, ast.Name):  # the one unpacking of the argument
            return [f"{self.say(one)} = {node.value.id}[{place}];" for place, one in enumerate(target.elts)]
        if not isinstance(node.value, ast.Tuple):
            raise self.unknown(node)
        first, then = [], []  # all right-hand sides are worked out before any name changes
        for one, given in zip(target.elts, node.value.elts, strict=True):
            self.temporaries += 1
            name = f"tmp{self.temporaries}"
            first.append(f"const {self.type_of(given)} {name} = {self.say(given)};")
            then.append(f"{self.say(one)} = {name};")
        return ["{", *first, *then, "}"]

    def unknown(self, node: ast.AST) -> ValueError:
        """Return the error for something that the kernel's small Python does not have."""
        return ValueError(f"line {getattr(node, 'lineno', '?')} of {self.tree.name}: {ast.unparse(node)[:80]!r} is not in the "
                          "part of Python that benchmarks/to_c.py turns into C; write it plainer, or teach it there.")

    def text(self) -> str:
        """Return the whole function in C."""
        self.infer()
        arguments = [f"const double *{self.tuple_argument}"]
        for name in self.buffers:
            arguments += [f"double *{name}", f"int64_t len_{name}"]
        names = [f"  {kind} {_named(name)} = 0;" for name, kind in self.types.items()]
        return "\n".join([f"void {self.tree.name}({', '.join(arguments)}) {{", *names, *self.statements(self.body, 1), "}"])


def _named(name: str) -> str:
    return name + "_" if name in TAKEN else name


def translate(module: ast.Module, constants: dict[str, float]) -> str:
    """Return the first function of a parsed module as C; `constants` are the module's numbers by name."""
    tree = next(node for node in module.body if isinstance(node, ast.FunctionDef))
    return Function(tree, constants).text()


def kernel_in_c() -> str:
    """Return `coilmodel.kernel.advance` as a C file."""
    constants = {name: value for name, value in vars(kernel).items() if name.isupper() and isinstance(value, (int, float))}
    return HEAD + translate(ast.parse(inspect.getsource(kernel.advance)), constants) + "\n"


def compile_c(folder: Path, *flags: str) -> Callable[[Sequence[float], Any, Any, Any, Any], None]:
    """Compile the kernel's C with gcc in `folder` and return it as a function that takes what `advance` takes.

    The buffers must be numpy arrays of float64. Raises subprocess.CalledProcessError where gcc refuses.
    """
    source, library = folder / "advance.c", folder / f"advance{''.join(flags).replace('=', '-')}.so"
    source.write_text(kernel_in_c(), encoding="utf-8")
    subprocess.run(["gcc", "-std=c11", *flags, "-shared", "-fPIC", str(source), "-o", str(library), "-lm"], check=True)
    compiled = ctypes.CDLL(str(library)).advance
    number = ctypes.POINTER(ctypes.c_double)
    compiled.argtypes = [number] + [number, ctypes.c_int64] * 4
    compiled.restype = None

    def advance(p: Sequence[float], *buffers: Any) -> None:
        given: list[Any] = [(ctypes.c_double * len(p))(*p)]
        for buffer in buffers:
            given += [buffer.ctypes.data_as(number), len(buffer)]
        compiled(*given)

    return advance


if __name__ == "__main__":
    print(kernel_in_c())
