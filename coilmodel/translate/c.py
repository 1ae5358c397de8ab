"""From the typed language of tree.py to C: what the benchmarks hold numba and WebAssembly against.

Every operation stands in brackets, so that Python's order of work is kept; compile with -ffp-contract=off (or -std=c11, which
means the same) so that no product and sum are drawn together, and the numbers are Python's to the last bit.

>>> from coilmodel.translate.front import functions_in, program
>>> print(c_text(program(functions_in("def f(p, out):\\n    out[0] = 2 / 4 + p[0]")["f"])).splitlines()[-2])
  out[INT64_C(0)] = ((2.0 / 4.0) + p[INT64_C(0)]);
"""

from __future__ import annotations

import math
from collections.abc import Sequence

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
)

HEAD = """#include <math.h>
#include <stdint.h>

static inline double least(double a, double b) { return b < a ? b : a; }
static inline double greatest(double a, double b) { return b > a ? b : a; }
static inline double square(double a) { return a * a; }
static inline int64_t whole_least(int64_t a, int64_t b) { return b < a ? b : a; }
static inline int64_t whole_greatest(int64_t a, int64_t b) { return b > a ? b : a; }
static inline int64_t whole_square(int64_t a) { return a * a; }
static inline int64_t rest(int64_t a, int64_t b) { int64_t r = a % b; return r != 0 && (r ^ b) < 0 ? r + b : r; }
static inline int64_t quotient(int64_t a, int64_t b) { return (a - rest(a, b)) / b; }
"""
TYPES = {TRUTH: "int", WHOLE: "int64_t", REAL: "double"}
IN_MATH_H = {"size": "fabs"}
OWN_WORD = {"//": "quotient", "%": "rest", "least": "least", "greatest": "greatest"}
TAKEN = frozenset("auto break case char const continue default do double else enum extern float for goto if inline int long "
                  "register restrict return short signed sizeof static struct switch typedef union unsigned void volatile while "
                  "sqrt floor ceil fabs y0 y1 yn j0 j1 jn gamma least greatest square rest quotient".split())


def c_text(program: Program) -> str:
    """Return the program as one C file. Of a function that gives several numbers, those after the first go to pointers."""
    return "\n\n".join([HEAD.rstrip(), *(_function(one, program) for one in program.functions)]) + "\n"


def _function(one: Function, program: Program) -> str:
    arguments = []
    for name, kind in one.parameters:
        arguments += [f"double *{_c(name)}", f"int64_t len_{name}"] if kind == BUFFER else [f"{TYPES[kind]} {_c(name)}"]
    arguments += [f"{TYPES[kind]} *result{place}" for place, kind in enumerate(one.results) if place]
    first = TYPES[one.results[0]] if one.results else "void"
    storage = "" if one.name in program.roots else "static "
    lines = [f"{storage}{first} {_c(one.name)}({', '.join(arguments) or 'void'}) {{"]
    lines += [f"  {TYPES[kind]} {_c(name)} = 0;" for name, kind in one.locals]
    return "\n".join([*lines, *_statements(one.body, "  "), "}"])


def _statements(body: Sequence[Statement], pad: str) -> list[str]:
    lines: list[str] = []
    for one in body:
        match one:
            case Set():
                lines.append(f"{pad}{_c(one.name)} = {_say(one.value)};")
            case Store():
                lines.append(f"{pad}{_c(one.buffer)}[{_say(one.index)}] = {_say(one.value)};")
            case Run():
                first = f"{_c(one.results[0])} = " if one.results else ""
                given = ", ".join([*_given(one.arguments), *(f"&{_c(name)}" for name in one.results[1:])])
                lines.append(f"{pad}{first}{_c(one.function)}({given});")
            case If():
                lines += [f"{pad}if ({_say(one.test)}) {{", *_statements(one.yes, pad + "  "), pad + "}"]
                if one.no:
                    lines += [pad + "else {", *_statements(one.no, pad + "  "), pad + "}"]
            case While():
                test = "1" if one.test is None else _say(one.test)
                lines += [f"{pad}while ({test}) {{", *_statements(one.body, pad + "  "), pad + "}"]
            case For():
                counter, bound = _c(one.counter), _c(one.bound)
                lines += [f"{pad}for ({counter} = {_say(one.first)}; {counter} < {bound}; {counter}++) {{",
                          f"{pad}  {_c(one.name)} = {counter};", *_statements(one.body, pad + "  "), pad + "}"]
            case Break():
                lines.append(pad + "break;")
            case Continue():
                lines.append(pad + "continue;")
            case Return():
                lines += [f"{pad}*result{place} = {_say(value)};" for place, value in enumerate(one.values) if place]
                lines.append(f"{pad}return{f' {_say(one.values[0])}' if one.values else ''};")
    return lines


def _given(arguments: Sequence[Expression | str]) -> list[str]:
    return [f"{_c(one)}, len_{one}" if isinstance(one, str) else _say(one) for one in arguments]


def _say(one: Expression) -> str:
    match one:
        case Number(value=value, kind=kind):
            if kind == WHOLE:
                return f"INT64_C({value})"
            if kind == TRUTH:
                return str(int(value))
            if math.isnan(value):
                return "NAN"
            return ("INFINITY" if value > 0 else "(-INFINITY)") if math.isinf(value) else repr(value)
        case Name():
            return _c(one.name)
        case Element():
            return f"{_c(one.buffer)}[{_say(one.index)}]"
        case Length():
            return f"len_{one.buffer}"
        case Convert(kind=kind):
            return f"({_say(one.value)} != 0)" if kind == TRUTH else f"({TYPES[kind]})({_say(one.value)})"
        case Binary(op=op):
            left, right = _say(one.left), _say(one.right)
            if op in ("least", "greatest"):
                return f"{'whole_' if one.kind == WHOLE else ''}{op}({left}, {right})"
            return f"{OWN_WORD[op]}({left}, {right})" if op in OWN_WORD else f"({left} {op} {right})"
        case Negative():
            return f"(-{_say(one.value)})"
        case Square():
            if isinstance(one.value, Name):
                return f"({_c(one.value.name)} * {_c(one.value.name)})"
            return f"{'whole_' if one.kind == WHOLE else ''}square({_say(one.value)})"
        case Known():
            return f"{IN_MATH_H.get(one.name, one.name)}({_say(one.value)})"
        case Compare():
            return f"({_say(one.left)} {one.op} {_say(one.right)})"
        case Both():
            return f"({_say(one.left)} {'&&' if one.word == 'and' else '||'} {_say(one.right)})"
        case Not():
            return f"(!{_say(one.value)})"
        case Choice():
            return f"({_say(one.test)} ? {_say(one.yes)} : {_say(one.no)})"
        case Call():
            return f"{_c(one.function)}({', '.join(_given(one.arguments))})"


def _c(name: str) -> str:
    """Return a name that C does not keep for itself."""
    return name + "_" if name in TAKEN else name
