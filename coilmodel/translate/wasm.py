"""From the typed language of tree.py to a WebAssembly module, byte by byte (WebAssembly core specification 2.0, binary format).

REAL becomes f64, WHOLE i64, TRUTH i32. A buffer becomes two i32: the byte at which it begins in the module's memory, and how
many floats it holds. Whoever calls fills the memory and reads it back (book/live/kernel.js). Nothing is imported; of the host
it needs what all have had since 2021: several results of a function, and conversions that do not trap.

What Python would refuse goes on here: a division by zero gives an infinity or no number, a place outside a buffer reads or
writes a neighbour's, and a name that was never given anything is zero. The plain kernel is tested for those.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence

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
    parts,
)

I32, I64, F64 = 0x7F, 0x7E, 0x7C
TYPES = {TRUTH: I32, WHOLE: I64, REAL: F64}
EMPTY = 0x40
UNREACHABLE, BLOCK, LOOP, IF, ELSE, END = 0x00, 0x02, 0x03, 0x04, 0x05, 0x0B
BRANCH, BRANCH_IF, RETURN, CALL = 0x0C, 0x0D, 0x0F, 0x10
SELECT, GET, PUT, TEE, F64_LOAD, F64_STORE = 0x1B, 0x20, 0x21, 0x22, 0x2B, 0x39
I32_CONST, I64_CONST, F64_CONST = 0x41, 0x42, 0x44
I32_EQZ, I32_NE, I64_EQZ, I64_NE, F64_NE = 0x45, 0x47, 0x50, 0x52, 0x62
I32_ADD, I32_SHL, I32_WRAP_I64, I64_EXTEND_I32_S, I64_EXTEND_I32_U = 0x6A, 0x74, 0xA7, 0xAC, 0xAD
F64_FROM_I32_S, F64_FROM_I64_S = 0xB7, 0xB9
I64_FROM_F64_SATURATED = b"\xfc\x06"
OF_REALS = {"+": 0xA0, "-": 0xA1, "*": 0xA2, "/": 0xA3, "<": 0x63, ">": 0x64, "<=": 0x65, ">=": 0x66, "==": 0x61, "!=": 0x62}
OF_WHOLES = {"+": 0x7C, "-": 0x7D, "*": 0x7E, "&": 0x83, "<": 0x53, ">": 0x55, "<=": 0x57, ">=": 0x59, "==": 0x51, "!=": 0x52}
I64_DIV_S, I64_REM_S, I64_XOR = 0x7F, 0x81, 0x85
OF_ONE_REAL = {"size": 0x99, "ceil": 0x9B, "floor": 0x9C, "sqrt": 0x9F}
F64_NEG = 0x9A
PAGE = 65536
SHORT = 60  # parts of a function that is inlined wherever it is called
MOST_OFFSET = 1 << 20  # floats: a constant place up to here is written into the load itself


def unsigned(value: int) -> bytes:
    """Return `value`, not negative, as LEB128.

    >>> unsigned(624485).hex()
    'e58e26'
    """
    out = bytearray()
    while True:
        low, value = value & 0x7F, value >> 7
        if not value:
            return bytes([*out, low])
        out.append(low | 0x80)


def signed(value: int) -> bytes:
    """Return `value` as signed LEB128.

    >>> signed(-123456).hex()
    'c0bb78'
    """
    out = bytearray()
    while True:
        low, value = value & 0x7F, value >> 7
        if (value == 0 and not low & 0x40) or (value == -1 and low & 0x40):
            return bytes([*out, low])
        out.append(low | 0x80)


def wasm_bytes(program: Program) -> bytes:
    """Return the program as a module that exports its roots by name, and its memory as "memory"."""
    inlined = _inlined(program)
    written = [one for one in program.functions if one.name not in inlined]
    places = {name: place for place, name in enumerate(one.name for one in written)}
    types: list[bytes] = []

    def type_of(parameters: Sequence[int], results: Sequence[int]) -> int:
        text = b"\x60" + _row([bytes([one]) for one in parameters]) + _row([bytes([one]) for one in results])
        if text not in types:
            types.append(text)
        return types.index(text)

    signatures = [unsigned(type_of(_flat_parameters(one), [TYPES[kind] for kind in one.results])) for one in written]
    within = {one.name: one for one in program.functions if one.name in inlined}
    bodies = [_sized(_Writer(one, places, within, type_of).body()) for one in written]
    exports = [_name("memory") + b"\x02\x00", *(_name(name) + b"\x00" + unsigned(places[name]) for name in program.roots)]
    names = b"".join(unsigned(place) + _name(name) for name, place in places.items())
    sections = {1: _row(types), 3: _row(signatures), 5: _row([b"\x00\x01"]), 7: _row(exports), 10: _row(bodies),
                0: _name("name") + b"\x01" + _sized(unsigned(len(places)) + names)}  # names of functions, for a debugger
    return b"\0asm\1\0\0\0" + b"".join(bytes([number]) + _sized(content) for number, content in sections.items())


def _row(items: Sequence[bytes]) -> bytes:
    return unsigned(len(items)) + b"".join(items)


def _sized(content: bytes) -> bytes:
    return unsigned(len(content)) + content


def _name(text: str) -> bytes:
    return _sized(text.encode())


def _flat_parameters(one: Function) -> list[int]:
    return [each for _, kind in one.parameters for each in ((I32, I32) if kind == BUFFER else (TYPES[kind],))]


def _inlined(program: Program) -> set[str]:
    """Return the functions to write out at the place of their call: those called from one place, and the short ones.

    A browser's compiler does little of that by itself, and a call that hands over thirty numbers costs more than most steps.
    """
    calls = [each.function for one in program.functions for each in parts(one) if isinstance(each, Call | Run)]
    return {one.name for one in program.functions if one.name not in program.roots
            and (calls.count(one.name) == 1 or sum(1 for _ in parts(one)) <= SHORT)}


class _Writer:
    """Writes one function's body."""

    def __init__(self, one: Function, places: dict[str, int], inlined: dict[str, Function],
                 type_of: Callable[[Sequence[int], Sequence[int]], int]) -> None:
        self.one, self.places, self.inlined, self.type_of = one, places, inlined, type_of
        self.slots: dict[str, int] = {}
        count = 0
        for name, kind in one.parameters:
            self.slots[name] = count
            count += 2 if kind == BUFFER else 1
        self.first_local = count
        self.kinds: list[int] = []
        for name, kind in one.locals:
            self.slots[name] = self._slot(TYPES[kind])
        self.free: dict[int, list[int]] = {}
        self.code = bytearray()
        self.depth = 0
        self.loops: list[tuple[int, int]] = []  # how deep the block to leave, and the one to go on with, lie
        self.outside: int | None = None  # how deep the block lies that an inlined function's return leaves

    def _slot(self, kind: int) -> int:
        self.kinds.append(kind)
        return self.first_local + len(self.kinds) - 1

    def body(self) -> bytes:
        """Return locals and code of the function."""
        self.statements(self.one.body)
        if self.one.results:
            self.put(UNREACHABLE)  # every way has returned by then
        self.put(END)
        runs: list[list[int]] = []
        for kind in self.kinds:
            if runs and runs[-1][1] == kind:
                runs[-1][0] += 1
            else:
                runs.append([1, kind])
        return _row([unsigned(count) + bytes([kind]) for count, kind in runs]) + bytes(self.code)

    # -------------------------------------------------------------------------------------------------- bytes
    def put(self, instruction: int, *operands: bytes) -> None:
        """Write one instruction."""
        self.code.append(instruction)
        for operand in operands:
            self.code += operand

    def get(self, slot: int) -> None:
        """Push a local."""
        self.put(GET, unsigned(slot))

    def open(self, kind: int, results: Sequence[int] = ()) -> int:
        """Begin a block, loop or if that leaves values of these types; return its depth."""
        self.put(kind, signed(self.type_of([], results)) if len(results) > 1 else bytes(results) or bytes([EMPTY]))
        self.depth += 1
        return self.depth

    def close(self) -> None:
        """End the innermost block."""
        self.put(END)
        self.depth -= 1

    def branch(self, depth: int, instruction: int = BRANCH) -> None:
        """Leave the block at `depth`, or go on with the loop there."""
        self.put(instruction, unsigned(self.depth - depth))

    # --------------------------------------------------------------------------------------------- statements
    def statements(self, body: Sequence[Statement]) -> None:
        """Write statements."""
        for one in body:
            self.statement(one)

    def statement(self, one: Statement) -> None:
        """Write one statement."""
        match one:
            case Set():
                self.say(one.value)
                self.put(PUT, unsigned(self.slots[one.name]))
            case Store():
                offset = self.address(one.buffer, one.index)
                self.say(one.value)
                self.put(F64_STORE, b"\x03", offset)
            case Run():
                self.call(one.function, one.arguments)
                for name in reversed(one.results):
                    self.put(PUT, unsigned(self.slots[name]))
            case If():
                self.say(one.test)
                self.open(IF)
                self.statements(one.yes)
                if one.no:
                    self.put(ELSE)
                    self.statements(one.no)
                self.close()
            case While():
                out, again = self.open(BLOCK), self.open(LOOP)
                if one.test is not None:
                    self.say(Not(one.test))
                    self.branch(out, BRANCH_IF)
                self.loop(one.body, out, again)
                self.branch(again)
                self.close()
                self.close()
            case For():
                self.for_range(one)
            case Break():
                self.branch(self.loops[-1][0])
            case Continue():
                self.branch(self.loops[-1][1])
            case Return():
                for value in one.values:
                    self.say(value)
                if self.outside is None:
                    self.put(RETURN)
                else:
                    self.branch(self.outside)

    def loop(self, body: Sequence[Statement], out: int, again: int) -> None:
        """Write a loop's body, in which break and continue know where to go."""
        self.loops.append((out, again))
        self.statements(body)
        self.loops.pop()

    def for_range(self, one: For) -> None:
        """Write a loop over a range."""
        counter, bound = self.slots[one.counter], self.slots[one.bound]
        self.say(one.first)
        self.put(PUT, unsigned(counter))
        out, again = self.open(BLOCK), self.open(LOOP)
        self.get(counter)
        self.get(bound)
        self.put(OF_WHOLES[">="])
        self.branch(out, BRANCH_IF)
        self.get(counter)
        self.put(PUT, unsigned(self.slots[one.name]))
        self.loop(one.body, out, self.open(BLOCK))
        self.close()
        self.get(counter)
        self.put(I64_CONST, signed(1))
        self.put(OF_WHOLES["+"])
        self.put(PUT, unsigned(counter))
        self.branch(again)
        self.close()
        self.close()

    def call(self, function: str, arguments: Sequence[Expression | str]) -> None:
        """Write a call; its results are then on the stack."""
        if function in self.inlined:
            self.inline(self.inlined[function], arguments)
            return
        for one in arguments:
            if isinstance(one, str):
                self.get(self.slots[one])
                self.get(self.slots[one] + 1)
            else:
                self.say(one)
        self.put(CALL, unsigned(self.places[function]))

    def inline(self, one: Function, arguments: Sequence[Expression | str]) -> None:
        """Write a function out where it is called: a block that leaves its results on the stack."""
        slots = {name: self._slot(TYPES[kind]) for name, kind in (*one.parameters, *one.locals) if kind != BUFFER}
        for (name, _), given in zip(one.parameters, arguments, strict=True):
            if isinstance(given, str):
                slots[name] = self.slots[given]
            else:
                self.say(given)
                self.put(PUT, unsigned(slots[name]))
        outer = self.slots, self.loops, self.outside
        results = [TYPES[kind] for kind in one.results]
        self.slots, self.loops = slots, []
        self.outside = self.open(BLOCK, results)
        self.statements(one.body)
        if results:
            self.put(UNREACHABLE)
        self.close()
        self.slots, self.loops, self.outside = outer

    # -------------------------------------------------------------------------------------------- expressions
    def address(self, buffer: str, index: Expression) -> bytes:
        """Push the byte that a place of a buffer is reckoned from; return what its load or store adds to it."""
        rest, offset = index, 0
        match index:
            case Binary(op="+", left=left, right=Number(value=value)) if 0 <= value < MOST_OFFSET:
                rest, offset = left, int(value)
            case Number(value=value) if value < MOST_OFFSET:
                rest, offset = Number(0, WHOLE), int(value)
        self.get(self.slots[buffer])
        if rest != Number(0, WHOLE):
            self.say(rest)
            self.put(I32_WRAP_I64)
            self.put(I32_CONST, signed(3))
            self.put(I32_SHL)
            self.put(I32_ADD)
        return unsigned(8 * offset)

    def say(self, one: Expression) -> None:
        """Push an expression's value."""
        match one:
            case Number(value=value, kind=kind):
                if kind == REAL:
                    self.put(F64_CONST, struct.pack("<d", value))
                else:
                    self.put(I64_CONST if kind == WHOLE else I32_CONST, signed(int(value)))
            case Name():
                self.get(self.slots[one.name])
            case Element():
                offset = self.address(one.buffer, one.index)
                self.put(F64_LOAD, b"\x03", offset)
            case Length():
                self.get(self.slots[one.buffer] + 1)
                self.put(I64_EXTEND_I32_U)
            case Convert():
                self.convert(one.value, one.kind)
            case Binary():
                self.binary(one)
            case Negative(value=value, kind=kind):
                if kind == REAL:
                    self.say(value)
                    self.put(F64_NEG)
                else:
                    self.put(I64_CONST, signed(0))
                    self.say(value)
                    self.put(OF_WHOLES["-"])
            case Square():
                self.square(one)
            case Known():
                self.say(one.value)
                self.put(OF_ONE_REAL[one.name])
            case Compare():
                self.say(one.left)
                self.say(one.right)
                self.put((OF_REALS if one.left.kind == REAL else OF_WHOLES)[one.op])
            case Both():
                self.say(one.left)
                self.open(IF, [I32])
                if one.word == "and":
                    self.say(one.right)
                    self.put(ELSE)
                    self.put(I32_CONST, signed(0))
                else:
                    self.put(I32_CONST, signed(1))
                    self.put(ELSE)
                    self.say(one.right)
                self.close()
            case Not(value=Convert(value=inner, kind="truth")) if inner.kind == WHOLE:
                self.say(inner)
                self.put(I64_EQZ)
            case Not():
                self.say(one.value)
                self.put(I32_EQZ)
            case Choice():
                self.choice(one)
            case Call():
                self.call(one.function, one.arguments)

    def convert(self, value: Expression, kind: str) -> None:
        """Push a value as another kind."""
        self.say(value)
        match value.kind, kind:
            case "whole", "truth":
                self.put(I64_CONST, signed(0))
                self.put(I64_NE)
            case "real", "truth":
                self.put(F64_CONST, struct.pack("<d", 0.0))
                self.put(F64_NE)
            case "truth", "whole":
                self.put(I64_EXTEND_I32_U)
            case "truth", "real":
                self.put(F64_FROM_I32_S)
            case "whole", "real":
                self.put(F64_FROM_I64_S)
            case "real", "whole":
                self.code += I64_FROM_F64_SATURATED

    def choice(self, one: Choice) -> None:
        """Push one of two values. What costs nothing to work out is chosen without a jump."""
        if isinstance(one.yes, Name | Number) and isinstance(one.no, Name | Number):
            self.say(one.yes)
            self.say(one.no)
            self.say(one.test)
            self.put(SELECT)
            return
        self.say(one.test)
        self.open(IF, [TYPES[one.kind]])
        self.say(one.yes)
        self.put(ELSE)
        self.say(one.no)
        self.close()

    def binary(self, one: Binary) -> None:
        """Push the outcome of an operation on two values."""
        codes = OF_REALS if one.kind == REAL else OF_WHOLES
        if one.op in codes:
            self.say(one.left)
            self.say(one.right)
            self.put(codes[one.op])
            return
        kind = TYPES[one.kind]
        left, right = self.borrow(one.left), self.borrow(one.right)
        if one.op in ("least", "greatest"):  # Python's: the second only where it is truly less, or greater
            self.get(right)
            self.get(left)
            self.get(right)
            self.get(left)
            self.put(codes["<" if one.op == "least" else ">"])
            self.put(SELECT)
        else:
            self.floored(one.op, left, right)
        self.give_back(kind, left, right)

    def floored(self, op: str, left: int, right: int) -> None:
        """Push quotient (//) or rest (%) of two whole numbers in locals, rounded down as Python does."""
        rest = self.take(I64)
        self.get(left)
        self.get(right)
        self.put(I64_REM_S)
        self.put(TEE, unsigned(rest))
        self.get(right)
        self.get(rest)
        self.get(right)
        self.put(I64_XOR)
        self.put(I64_CONST, signed(0))
        self.put(OF_WHOLES["<"])
        self.get(rest)
        self.put(I64_EQZ)
        self.put(I32_EQZ)
        self.put(0x71)  # i32.and: the signs differ, and something is left
        self.put(I64_EXTEND_I32_U)
        self.put(OF_WHOLES["*"])
        self.put(OF_WHOLES["+"])
        if op == "//":
            self.put(PUT, unsigned(rest))
            self.get(left)
            self.get(rest)
            self.put(OF_WHOLES["-"])
            self.get(right)
            self.put(I64_DIV_S)
        self.give_back(I64, rest)

    def square(self, one: Square) -> None:
        """Push a value times itself."""
        codes = OF_REALS if one.kind == REAL else OF_WHOLES
        if isinstance(one.value, Name):
            self.say(one.value)
            self.say(one.value)
            self.put(codes["*"])
            return
        slot = self.take(TYPES[one.kind])
        self.say(one.value)
        self.put(TEE, unsigned(slot))
        self.get(slot)
        self.put(codes["*"])
        self.give_back(TYPES[one.kind], slot)

    def take(self, kind: int) -> int:
        """Return a local that is free for a moment."""
        return self.free[kind].pop() if self.free.get(kind) else self._slot(kind)

    def give_back(self, kind: int, *slots: int) -> None:
        """Free locals again."""
        self.free.setdefault(kind, []).extend(slots)

    def borrow(self, value: Expression) -> int:
        """Put a value into a free local and return that."""
        slot = self.take(TYPES[value.kind])
        self.say(value)
        self.put(PUT, unsigned(slot))
        return slot
