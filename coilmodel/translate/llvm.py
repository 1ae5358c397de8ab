"""From the typed language of tree.py to the text that LLVM reads (LLVM language reference), for the machine that runs it.

REAL becomes double, WHOLE i64, TRUTH i1. A buffer becomes a pointer to its first float and an i64 that says how many it holds. A
function that gives several numbers gives them as one structure. No operation may be reordered or drawn together, so the numbers
are Python's to the last bit. Names live in memory here; LLVM's own passes move them into registers.

What Python would refuse goes on here, as in wasm.py: a division by zero gives an infinity or no number, a place outside a buffer
reads or writes a neighbour's, and a name that was never given anything is zero.

>>> from coilmodel.translate.front import functions_in, program
>>> text = llvm_text(program(functions_in("def f(p, out):\\n    out[0] = p[1] - 2.0")["f"]))
>>> next(line.strip().split(" = ")[1].split()[0] for line in text.splitlines() if "0x4000000000000000" in line)
'fsub'
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
)

TYPES = {TRUTH: "i1", WHOLE: "i64", REAL: "double"}
ZERO = {TRUTH: "false", WHOLE: "0", REAL: "0.0"}
OF_REALS = {"+": "fadd", "-": "fsub", "*": "fmul", "/": "fdiv"}
OF_WHOLES = {"+": "add", "-": "sub", "*": "mul", "&": "and"}
REALS_COMPARED = {"<": "olt", "<=": "ole", ">": "ogt", ">=": "oge", "==": "oeq", "!=": "une"}  # no number differs from itself
WHOLES_COMPARED = {"<": "slt", "<=": "sle", ">": "sgt", ">=": "sge", "==": "eq", "!=": "ne"}
OF_ONE_REAL = {"sqrt": "llvm.sqrt.f64", "floor": "llvm.floor.f64", "ceil": "llvm.ceil.f64", "size": "llvm.fabs.f64"}
TO_WHOLE = "llvm.fptosi.sat.i64.f64"  # toward zero; what is too large gives the largest, no number gives zero


def llvm_text(program: Program) -> str:
    """Return the program as one module; its roots can be called from outside."""
    results = {one.name: one.results for one in program.functions}
    functions = ["\n".join(_Writer(one, results).lines(one.name in program.roots)) for one in program.functions]
    known = [f"declare double @{name}(double)" for name in OF_ONE_REAL.values()]
    return "\n\n".join([*functions, "\n".join([*known, f"declare i64 @{TO_WHOLE}(double)"])]) + "\n"


def _result(kinds: Sequence[str]) -> str:
    """Return the type of what a function with these results gives."""
    types = [TYPES[kind] for kind in kinds]
    return "void" if not types else types[0] if len(types) == 1 else f"{{ {', '.join(types)} }}"


class _Writer:
    """Writes one function, a block of instructions after the other."""

    def __init__(self, one: Function, results: dict[str, tuple[str, ...]]) -> None:
        self.one, self.results = one, results
        self.kinds = dict((*one.parameters, *one.locals))
        self.out: list[str] = []
        self.count = 0  # of the values and blocks that have been named
        self.block = ""  # the one that is being written
        self.loops: list[tuple[str, str]] = []  # the blocks to leave for, and to go on with

    def lines(self, root: bool) -> list[str]:
        """Return the function's lines; only a root is seen from outside."""
        self.begin(".entry")
        given = [part for name, kind in self.one.parameters
                 for part in ((f"ptr %{name}", f"i64 %len.{name}") if kind == BUFFER else (f"{TYPES[kind]} %given.{name}",))]
        for name, kind in (*self.one.parameters, *self.one.locals):
            if kind != BUFFER:
                self.put(f"%{name} = alloca {TYPES[kind]}")
        for name, kind in self.one.parameters:
            if kind != BUFFER:
                self.put(f"store {TYPES[kind]} %given.{name}, ptr %{name}")
        for name, kind in self.one.locals:
            self.put(f"store {TYPES[kind]} {ZERO[kind]}, ptr %{name}")
        self.statements(self.one.body)
        self.put("unreachable" if self.one.results else "ret void")  # with results, every way has returned by then
        kind = "" if root else "internal "
        return [f"define {kind}{_result(self.one.results)} @{self.one.name}({', '.join(given)}) nounwind {{", *self.out, "}"]

    # ------------------------------------------------------------------------------------------ values and blocks
    def put(self, text: str) -> None:
        """Write one instruction."""
        self.out.append(f"  {text}")

    def new(self) -> str:
        """Return a number that has named nothing yet."""
        self.count += 1
        return str(self.count)

    def value(self, text: str) -> str:
        """Write an instruction that gives a value; return the value's name."""
        name = f"%.{self.new()}"  # a dot, which no name of Python's has
        self.put(f"{name} = {text}")
        return name

    def begin(self, block: str) -> None:
        """Begin a block; whatever was written before must have left for one."""
        self.out.append(f"{block}:")
        self.block = block

    def leave(self, block: str) -> None:
        """Leave for a block."""
        self.put(f"br label %{block}")

    def ask(self, test: Expression, yes: str, no: str) -> None:
        """Leave for one of two blocks."""
        self.put(f"br i1 {self.say(test)}, label %{yes}, label %{no}")

    # ------------------------------------------------------------------------------------------------ statements
    def statements(self, body: Sequence[Statement]) -> None:
        """Write statements."""
        for one in body:
            self.statement(one)

    def statement(self, one: Statement) -> None:
        """Write one statement."""
        match one:
            case Set():
                self.put(f"store {TYPES[self.kinds[one.name]]} {self.say(one.value)}, ptr %{one.name}")
            case Store():
                place = self.place(one.buffer, one.index)
                self.put(f"store double {self.say(one.value)}, ptr {place}")
            case Run():
                self.run(one)
            case If():
                self.fork(one)
            case While():
                self.loop(lambda: self.say(Number(1, TRUTH) if one.test is None else one.test), one.body, lambda: None)
            case For():
                self.for_range(one)
            case Break():
                self.jump(self.loops[-1][0])
            case Continue():
                self.jump(self.loops[-1][1])
            case Return():
                self.give(one)

    def jump(self, block: str) -> None:
        """Leave for a block from the middle of the text; what follows is never reached, and yet wants a block."""
        self.leave(block)
        self.begin(f".after.{self.new()}")

    def run(self, one: Run) -> None:
        """Write a call, and put its results where they go."""
        kinds = self.results[one.function]
        whole = self.call(one.function, one.arguments)
        for place, name in enumerate(one.results):
            part = whole if len(kinds) == 1 else self.value(f"extractvalue {_result(kinds)} {whole}, {place}")
            self.put(f"store {TYPES[kinds[place]]} {part}, ptr %{name}")

    def give(self, one: Return) -> None:
        """Write a return."""
        values, kinds = [self.say(value) for value in one.values], self.one.results
        if len(values) < 2:
            self.put(f"ret {TYPES[kinds[0]]} {values[0]}" if values else "ret void")
        else:
            whole = "undef"
            for place, (value, kind) in enumerate(zip(values, kinds, strict=True)):
                whole = self.value(f"insertvalue {_result(kinds)} {whole}, {TYPES[kind]} {value}, {place}")
            self.put(f"ret {_result(kinds)} {whole}")
        self.begin(f".after.{self.new()}")

    def fork(self, one: If) -> None:
        """Write two ways on."""
        number = self.new()
        self.ask(one.test, f".yes.{number}", f".no.{number}")
        for way, body in (("yes", one.yes), ("no", one.no)):
            self.begin(f".{way}.{number}")
            self.statements(body)
            self.leave(f".both.{number}")
        self.begin(f".both.{number}")

    def loop(self, test: Callable[[], str], body: Sequence[Statement], step: Callable[[], None]) -> None:
        """Write a loop: `test` gives whether to take another turn, `step` comes between two turns."""
        number = self.new()
        self.leave(f".again.{number}")
        self.begin(f".again.{number}")
        self.put(f"br i1 {test()}, label %.turn.{number}, label %.out.{number}")
        self.begin(f".turn.{number}")
        self.loops.append((f".out.{number}", f".next.{number}"))
        self.statements(body)
        self.loops.pop()
        self.leave(f".next.{number}")
        self.begin(f".next.{number}")
        step()
        self.leave(f".again.{number}")
        self.begin(f".out.{number}")

    def for_range(self, one: For) -> None:
        """Write a loop over a range."""
        self.put(f"store i64 {self.say(one.first)}, ptr %{one.counter}")
        counter = Name(one.counter, WHOLE)

        def step() -> None:
            self.put(f"store i64 {self.say(Binary('+', counter, Number(1, WHOLE), WHOLE))}, ptr %{one.counter}")

        self.loop(lambda: self.say(Compare("<", counter, Name(one.bound, WHOLE))), (Set(one.name, counter), *one.body), step)

    # ----------------------------------------------------------------------------------------------- expressions
    def place(self, buffer: str, index: Expression) -> str:
        """Return the address of a place of a buffer."""
        return self.value(f"getelementptr double, ptr %{buffer}, i64 {self.say(index)}")

    def call(self, function: str, arguments: Sequence[Expression | str]) -> str:
        """Write a call; return the name of what it gives, "" for nothing."""
        given: list[str] = []
        for one in arguments:
            if isinstance(one, str):
                given += [f"ptr %{one}", f"i64 %len.{one}"]
            else:
                given.append(f"{TYPES[one.kind]} {self.say(one)}")
        result = _result(self.results[function])
        text = f"call {result} @{function}({', '.join(given)})"
        if result != "void":
            return self.value(text)
        self.put(text)
        return ""

    def say(self, one: Expression) -> str:
        """Write what an expression needs; return its value: a constant or a name."""
        match one:
            case Number(value=value, kind=kind):
                return ("false", "true")[bool(value)] if kind == TRUTH else str(value) if kind == WHOLE else _real(value)
            case Name():
                return self.value(f"load {TYPES[one.kind]}, ptr %{one.name}")
            case Element():
                return self.value(f"load double, ptr {self.place(one.buffer, one.index)}")
            case Length():
                return f"%len.{one.buffer}"
            case Convert():
                return self.convert(self.say(one.value), one.value.kind, one.kind)
            case Binary():
                return self.binary(one.op, self.say(one.left), self.say(one.right), one.kind)
            case Negative():
                inner = self.say(one.value)
                return self.value(f"fneg double {inner}" if one.kind == REAL else f"sub i64 0, {inner}")
            case Square():
                inner = self.say(one.value)
                return self.binary("*", inner, inner, one.kind)
            case Known():
                return self.value(f"call double @{OF_ONE_REAL[one.name]}(double {self.say(one.value)})")
            case Compare():
                left, right = self.say(one.left), self.say(one.right)
                if one.left.kind == REAL:
                    return self.value(f"fcmp {REALS_COMPARED[one.op]} double {left}, {right}")
                return self.value(f"icmp {WHOLES_COMPARED[one.op]} i64 {left}, {right}")
            case Both(word="and"):
                return self.choose(one.left, one.right, Number(0, TRUTH), TRUTH)
            case Both():
                return self.choose(one.left, Number(1, TRUTH), one.right, TRUTH)
            case Not():
                return self.value(f"xor i1 {self.say(one.value)}, true")
            case Choice():
                return self.choose(one.test, one.yes, one.no, one.kind)
            case Call():
                return self.call(one.function, one.arguments)

    def convert(self, value: str, of: str, to: str) -> str:
        """Return a value as another kind."""
        if of == to:
            return value
        if to == TRUTH:
            return self.value(f"fcmp une double {value}, 0.0" if of == REAL else f"icmp ne i64 {value}, 0")
        if to == REAL:
            return self.value(f"{'sitofp' if of == WHOLE else 'uitofp'} {TYPES[of]} {value} to double")
        return self.value(f"call i64 @{TO_WHOLE}(double {value})" if of == REAL else f"zext i1 {value} to i64")

    def binary(self, op: str, left: str, right: str, kind: str) -> str:
        """Return the outcome of an operation on two values of one kind."""
        of, names = TYPES[kind], OF_REALS if kind == REAL else OF_WHOLES
        if op in names:
            return self.value(f"{names[op]} {of} {left}, {right}")
        if op in ("least", "greatest"):
            word = ("o" if kind == REAL else "s") + ("lt" if op == "least" else "gt")
            test = self.value(f"{'fcmp' if kind == REAL else 'icmp'} {word} {of} {right}, {left}")
            return self.value(f"select i1 {test}, {of} {right}, {of} {left}")
        rest = self.value(f"srem i64 {left}, {right}")  # has the sign of `left`; Python's has that of `right`
        apart = self.value(f"icmp slt i64 {self.value(f'xor i64 {rest}, {right}')}, 0")
        some = self.value(f"icmp ne i64 {rest}, 0")
        moved = self.value(f"add i64 {rest}, {right}")
        rest = self.value(f"select i1 {self.value(f'and i1 {apart}, {some}')}, i64 {moved}, i64 {rest}")
        return rest if op == "%" else self.value(f"sdiv i64 {self.value(f'sub i64 {left}, {rest}')}, {right}")

    def choose(self, test: Expression, yes: Expression, no: Expression, kind: str) -> str:
        """Return one of two values; only that one is worked out."""
        number = self.new()
        self.ask(test, f".yes.{number}", f".no.{number}")
        ways = []
        for way, one in (("yes", yes), ("no", no)):
            self.begin(f".{way}.{number}")
            ways.append(f"[ {self.say(one)}, %{self.block} ]")
            self.leave(f".both.{number}")
        self.begin(f".both.{number}")
        return self.value(f"phi {TYPES[kind]} {', '.join(ways)}")


def _real(value: float) -> str:
    return f"0x{struct.pack('>d', value).hex().upper()}"
