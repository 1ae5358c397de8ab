"""The small typed language between the kernel's Python and what is written out of it (WebAssembly, C).

Three kinds of number: REAL (a 64-bit float), WHOLE (a 64-bit integer) and TRUTH (a comparison's outcome); and BUFFER, a flat
row of floats that is read and written in place. Every expression says its kind, every conversion is written out, and whatever
Python does in one breath (swaps, chained assignments) is already taken apart, so that a writer has no choices left to make.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

TRUTH, WHOLE, REAL = "truth", "whole", "real"
BUFFER = "buffer"
ORDER = (TRUTH, WHOLE, REAL)
"""A name that is given numbers of several kinds has the last of them in this order."""


def widest(*kinds: str) -> str:
    """Return the kind that holds numbers of all `kinds`."""
    return max(kinds, key=ORDER.index)


# ------------------------------------------------------------------------------------------------------ expressions
@dataclass(frozen=True)
class Number:
    """A constant. An infinite one is REAL."""

    value: float
    kind: str


@dataclass(frozen=True)
class Name:
    """The value of a local name or of a parameter that is a number."""

    name: str
    kind: str


@dataclass(frozen=True)
class Element:
    """`buffer[index]`; the index is WHOLE and not negative."""

    buffer: str
    index: Expression
    kind: str = REAL


@dataclass(frozen=True)
class Length:
    """The number of floats in a buffer."""

    buffer: str
    kind: str = WHOLE


@dataclass(frozen=True)
class Convert:
    """`value` as another kind: toward zero from REAL to WHOLE; "is not zero" to TRUTH."""

    value: Expression
    kind: str


@dataclass(frozen=True)
class Binary:
    """`left op right`, both of this kind. REAL: + - * / least greatest; WHOLE: + - * // % & least greatest.

    // and % are Python's: the quotient is rounded down and the rest has the divisor's sign. least and greatest are Python's
    min and max: the first of two equals.
    """

    op: str
    left: Expression
    right: Expression
    kind: str


@dataclass(frozen=True)
class Negative:
    """`-value`, REAL or WHOLE."""

    value: Expression
    kind: str


@dataclass(frozen=True)
class Square:
    """`value * value`, worked out once; REAL or WHOLE."""

    value: Expression
    kind: str


@dataclass(frozen=True)
class Known:
    """One of the functions of one REAL that every home rounds alike: sqrt, floor, ceil, size (Python's abs)."""

    name: str
    value: Expression
    kind: str = REAL


@dataclass(frozen=True)
class Compare:
    """`left op right` for < <= > >= == !=, both of the same kind, not TRUTH."""

    op: str
    left: Expression
    right: Expression
    kind: str = TRUTH


@dataclass(frozen=True)
class Both:
    """`left and right`, or `left or right` (`word`); the right one is not worked out where the left one decides."""

    word: str
    left: Expression
    right: Expression
    kind: str = TRUTH


@dataclass(frozen=True)
class Not:
    """`not value`."""

    value: Expression
    kind: str = TRUTH


@dataclass(frozen=True)
class Choice:
    """`yes if test else no`; only the one that is taken is worked out."""

    test: Expression
    yes: Expression
    no: Expression
    kind: str


@dataclass(frozen=True)
class Call:
    """A call of a function of the program that gives one number. A BUFFER is handed on by its name."""

    function: str
    arguments: tuple[Expression | str, ...]
    kind: str


Expression = (Number | Name | Element | Length | Convert | Binary | Negative | Square | Known | Compare | Both | Not | Choice
              | Call)


# ------------------------------------------------------------------------------------------------------- statements
@dataclass(frozen=True)
class Set:
    """A local name takes a value of its own kind."""

    name: str
    value: Expression


@dataclass(frozen=True)
class Store:
    """`buffer[index] = value`."""

    buffer: str
    index: Expression
    value: Expression


@dataclass(frozen=True)
class Run:
    """A call as a statement; each of its results goes to a local name of its kind (none for a function that gives none)."""

    function: str
    arguments: tuple[Expression | str, ...]
    results: tuple[str, ...]


@dataclass(frozen=True)
class If:
    """Two ways on; the second may be empty."""

    test: Expression
    yes: tuple[Statement, ...]
    no: tuple[Statement, ...]


@dataclass(frozen=True)
class While:
    """A loop; `test` is None where it goes on until a break or return."""

    test: Expression | None
    body: tuple[Statement, ...]


@dataclass(frozen=True)
class For:
    """`for name in range(first, bound)`: `counter` and `bound` are names of their own, so the body may change `name`."""

    name: str
    counter: str
    first: Expression
    bound: str
    body: tuple[Statement, ...]


@dataclass(frozen=True)
class Break:
    """Leave the innermost loop."""


@dataclass(frozen=True)
class Continue:
    """On with the innermost loop's next turn."""


@dataclass(frozen=True)
class Return:
    """Leave the function with its results, each of the kind that the function says."""

    values: tuple[Expression, ...]


Statement = Set | Store | Run | If | While | For | Break | Continue | Return


# -------------------------------------------------------------------------------------------------------- functions
@dataclass(frozen=True)
class Function:
    """One function: parameters in order with their kinds, kinds of its results, and the other names with theirs."""

    name: str
    parameters: tuple[tuple[str, str], ...]
    results: tuple[str, ...]
    locals: tuple[tuple[str, str], ...]
    body: tuple[Statement, ...]


@dataclass(frozen=True)
class Program:
    """The functions, those that are called before those that call them; `roots` are the names of those asked for."""

    functions: tuple[Function, ...]
    roots: tuple[str, ...]


def parts(node: Any) -> Iterator[Any]:
    """Yield every statement and expression within a node, a row of nodes or a function, itself included."""
    if isinstance(node, tuple):
        for one in node:
            yield from parts(one)
    elif hasattr(node, "__dataclass_fields__"):
        yield node
        for name in node.__dataclass_fields__:
            yield from parts(getattr(node, name))
