"""One text, four homes: what coilmodel/translate makes of small functions does what Python does, to the last bit.

Each text has a function f(p, out) that reads the floats of p and fills `out`. It is run as plain Python, through gcc, as
WebAssembly in Node, and compiled by numba. The kernel itself is held to the same in test_kernel_homes.py and test_kernel_page.py.
"""

from __future__ import annotations

import ctypes
import importlib.util
import math
import subprocess
import sys
from array import array
from pathlib import Path
from typing import Any

import pytest

from book.making.kernel_module import run_in_node
from coilmodel.translate.c import c_text
from coilmodel.translate.front import functions_in, program
from coilmodel.translate.wasm import wasm_bytes

ROOM = 24  # floats in `out`
P = (0.5, 2.0, -3.25, 7.0, 1e-9, 1e9)

TEXTS = {
    "whole numbers divided, swapped, compared in a chain": """
def f(p: list[float], out: list[float]) -> None:
    i = 7
    j = 2
    out[0] = i / j
    i, j = j, i
    out[1] = i // 1 + 10 * j
    short = p[0]
    out[2] = 1.0 if 0.0 < short < 1.0 else 2.0
    out[3] = -short ** 2
    out[4] = float(0.0 <= p[1] < 3.0 and not i > 2)
    k = 0
    while True:
        k += 1
        if k < 3:
            continue
        break
    out[5] = k
    for m in range(4):
        out[6] += m
    out[7] = m
""",
    "rounding of quotients and rests, down as Python does": """
def f(p: list[float], out: list[float]) -> None:
    at = 0
    for a in range(-7, 8):
        if a == 0:
            continue
        at = 0
        for b in range(-3, 4):
            if b == 0:
                continue
            out[at] = 100.0 * out[at] + (a // b) + 10 * (a % b) + (a & 5)
            at += 1
    out[20] = int(p[2]) + int(-p[2]) * 10 + int(p[5]) * 3
    out[21] = math.floor(p[2]) + 0.5 * math.ceil(p[2])
""",
    "functions that call each other and give one number or several": """
HALF = 0.5
TABLE = (3.0, 4.0, 5)

def halves(x: float, n: int) -> tuple[float, int, float]:
    if n > 3:
        return x, n, HALF * n
    y = x
    for _ in range(n):
        y = y * HALF
    return y, n + 1, -y

def both(x, n):
    return halves(x + 1.0, n)

def shrink(x: float) -> float:
    while True:
        if x < 1.0:
            return x
        x -= 1.0

def total(row: list[float], count: int) -> float:
    sum_ = 0.0
    for j in range(count):
        sum_ += row[j]
    return sum_

def mark(row, at, value):
    row[at] = value
    if value < 0.0:
        return
    row[at + 1] += value

def f(p: list[float], out: list[float]) -> None:
    a, n, c = halves(p[1], 2)
    out[0], out[1], out[2] = a, n, c
    a, n, a = both(a, n)
    out[3], out[4] = a, n / 2
    out[5] = shrink(p[3] + 0.25) + 10.0 * shrink(p[0])
    mark(out, 6, -1.0)
    mark(out, 8, n)
    out[10] = total(p, len(p) - 1) + total(out, 3)
    out[11] = TABLE[2] + len(TABLE)
    q, r, s = TABLE
    out[12] = q * r * s
    _, n, _ = halves(1.0, 5)
    out[13] = n
""",
    "kinds: a truth, a whole number and a float in one place": """
def f(p: list[float], out: list[float]) -> None:
    flag = p[0] > 0.0
    out[0] = flag
    out[1] = flag + 2
    count = flag
    count += 2
    out[2] = count / 2
    mixed = 3
    out[3] = mixed / 2
    if flag:
        mixed = 0.25
    out[4] = mixed
    touch = 1 if p[1] - p[0] >= 0.0 else 0
    out[5] = 0.5 * touch * p[1] * (1 - touch + 1)
    switched = touch != 0
    if p[2]:
        switched = False
    out[6] = switched or touch == 1
    out[7] = 1.0 if not touch else 2.0
    out[8] = 5.0 if p[3] and touch and not switched else 6.0
    size = p[2] if p[2] > 0.0 else -p[2]
    out[9] = size
    a = b = c = p[4]
    a += 1.0
    out[10], out[11], out[12] = a, b, c
    on, off = touch, 1 - touch
    on, off = off, on
    out[13] = on - 2 * off
    big = 4000 + int(p[5] * 40.0)
    out[14] = big
    out[15] = int(flag) + float(touch) + bool(p[2])
""",
    "the known functions of one and two numbers": """
def f(p: list[float], out: list[float]) -> None:
    out[0] = math.sqrt(p[1]) + abs(p[2]) + math.fabs(p[2])
    out[1] = min(p[0], p[1], p[2]) + 10.0 * max(p[0], p[3], 6)
    out[2] = max(2, 3) + min(abs(-4), 9)
    out[3] = 1.0 / max(-0.0, 0.0 * p[0] + 1e-300)
    out[4] = 1.0 if p[0] < math.inf else 0.0
    out[5] = math.pi * p[0] - math.floor(-p[0])
    n = 3
    out[6] = n ** 2 + (p[0] + 1.0) ** 2
    out[7] = min(p[0], 1) + min(n, 2)
""",
    "loops within loops, left and gone on with from every depth": """
def f(p: list[float], out: list[float]) -> None:
    found = -1
    for i in range(6):
        j = 0
        while j < 6:
            j += 1
            if (i + j) % 2 == 0:
                continue
            k = 0
            while True:
                k += 1
                if k > j:
                    break
                if k == 4:
                    found = i
                    break
            if found >= 0:
                break
            out[i] += j
        else_ = i
        if found >= 1:
            break
        found = -1 if found == 0 else found
        out[10] = else_
    i = 3
    for m in range(i):
        i = 10
        m += 5
        out[11] += m + i
    out[12] = i + m
    pass
""",
    "a return in the midst of things, from a function that gives nothing": """
def f(p: list[float], out: list[float]) -> None:
    for i in range(len(out)):
        if i == 5:
            return
        out[i] = i - p[0]
""",
    "names that other languages keep for themselves": """
def double(int: float) -> float:
    return 2.0 * int

def f(p: list[float], out: list[float]) -> None:
    short = p[0]
    register = double(short)
    for auto in range(2):
        out[auto] = register + auto
    sqrt = 3.0
    out[3] = math.sqrt(sqrt)
    t1_, t2_ = p[1], p[0]
    t1_, t2_ = t2_, t1_
    out[4] = t1_ - 2.0 * t2_
""",
}


def in_python(text: str) -> list[float]:
    names: dict[str, Any] = {"math": math}
    exec("import math\n" + text, names)
    out = [0.0] * ROOM
    names["f"](P, out)
    return [float(number) for number in out]


def in_wasm(text: str) -> list[float]:
    out = array("d", bytes(8 * ROOM))
    run_in_node(wasm_bytes(program(functions_in("import math\n" + text)["f"])), [("f", [array("d", P), out])])
    return list(out)


def in_c(text: str, gcc: str, folder: Path) -> list[float]:
    source, library = folder / "f.c", folder / "f.so"
    source.write_text(c_text(program(functions_in("import math\n" + text)["f"])), encoding="utf-8")
    strict = ("-std=c11", "-Wall", "-Werror", "-Wno-unused", "-shared", "-fPIC")
    subprocess.run([gcc, *strict, str(source), "-o", str(library), "-lm"], check=True)
    out = (ctypes.c_double * ROOM)()
    ctypes.CDLL(str(library)).f((ctypes.c_double * len(P))(*P), ctypes.c_int64(len(P)), out, ctypes.c_int64(ROOM))
    return list(out)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_webassembly_does_what_python_does(need_node: str, text: str) -> None:
    expected = in_python(text)
    assert any(expected)
    assert in_wasm(text) == expected


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_c_does_what_python_does(need_gcc: str, tmp_path: Path, text: str) -> None:
    assert in_c(text, need_gcc, tmp_path) == in_python(text)


REFUSED = {
    "a = p[0] % 2": "% is read of whole numbers only",
    "a = [1.0]": "",
    "a = round(p[0])": "",
    "a = math.sin(p[0])": "",
    "assert p[0]": "",
    "for x in p:\n  out[0] = x": "",
    "a = p[p[0]]": "a place in a buffer is a whole number",
    "a = p[-1]": "places are counted from the front",
    "a = nowhere": "no number of this name is known here",
    "a = p": "a buffer where a number is wanted",
    "out = 1.0": "a buffer in one place and a number in another",
    "a = p[0] or 1.0": "their sides",
    "a, b = g(1.0)": "g gives 1 numbers",
    "a = h(1.0)": "h gives 2 numbers, and one is wanted here",
    "a = g(1.0, 2.0)": "g takes 1 values",
    "a = g(x=1.0)": "",
    "a = n(0.5)": "n is whole",
    "a = f(p, out)": "it calls itself",
    "a = 0.0 < g(1.0) < 1.0": "would be called twice",
    "a = lambda: 1.0": "a function within a function",
    "a = s(out)": "",
    "while p[0]:\n  break\nelse:\n  pass": "",
    "global a\na = 1": "",
    "a = p[0] is None": "",
}
HELPERS = """
def g(x: float) -> float:
    return x

def h(x):
    return x, x

def n(n: int) -> int:
    return n

def s(x: str) -> float:
    return 1.0
"""


@pytest.mark.parametrize(("statement", "why"), REFUSED.items(), ids=REFUSED)
def test_what_is_not_read_is_refused_by_line(statement: str, why: str) -> None:
    """A kernel that grows a new kind of statement stops the build with a sentence, and nothing else is run in its place."""
    lines = [*HELPERS.splitlines(), "def f(p: list[float], out: list[float]) -> None:"]
    text = "\n ".join(["\n".join(lines), *statement.split("\n")])
    with pytest.raises(ValueError, match=r"^line \d+ of \w+: ") as refused:
        program(functions_in("import math\n" + text)["f"])
    _, line, _, name, *_ = str(refused.value).replace(":", "").split()
    assert why in str(refused.value)
    assert (name == "s") if "s(out)" in statement else (name == "f")
    first = 1 + len(lines) + 1  # the line of the import comes before them
    assert name == "s" or int(line) in range(first - (why == "it calls itself"), first + 1 + statement.count("\n"))


@pytest.mark.parametrize(("body", "helper", "why"), [
    ("return g(1.0)", "def g(x):\n if x > 0.0:\n  return 1.0", "it can end without a return"),
    ("out[0] = g(1.0)", "def g(x: float) -> int:\n return x", "was promised"),
    ("g(1)", "def g(n: int) -> None:\n n = 0.5", "the parameter n is whole"),
    ("g(1)", "def g(n=2):\n pass", "without defaults"),
    ("out[0] = 1.0", "", "nothing says what the parameter p is"),
    ("a, b = g(1)", "def g(n):\n if n:\n  return 1.0\n return 1.0, 2.0", "different numbers of values"),
])
def test_a_function_that_promises_otherwise_is_refused(body: str, helper: str, why: str) -> None:
    read = "1.0" if "nothing says" in why else "p[0]"
    with pytest.raises(ValueError, match=why):
        program(functions_in(f"def f(p, out):\n out[0] = {read}\n {body}\n{helper}")["f"])


def test_a_function_is_named_by_the_line_of_its_file() -> None:
    """`not_read` stands in this file; the sentence must lead there."""
    line = not_read.__code__.co_firstlineno + 1
    with pytest.raises(ValueError, match=rf"^line {line} of not_read: 'out\[0\] = p\[:\]' is not|^line {line} of not_read: "):
        program(not_read)


def not_read(p: list[float], out: list[float]) -> None:
    out[0] = p[:]  # type: ignore[call-overload]


# ---------------------------------------------------------------------------------------- several functions under numba
MODULE = '''
import math

SHARE = {share}

def root(x: float) -> float:
    return math.sqrt(x)

def pair(x: float, n: int) -> tuple[float, int]:
    return SHARE * root(x), n + 1

def run(p: tuple[float, ...], out: list[float]) -> None:
    a, n = pair(p[0], 3)
    out[0] = a + n
'''
TRY = '''
import json, sys
sys.path.insert(0, {root!r}); sys.path.insert(0, {folder!r})
import small
from coilmodel.compiled import buffer, fastest
run, out = fastest(small.run), buffer(1)
run((16.0,), out)
helper = fastest(small.pair)
print(json.dumps([float(out[0]), sum(run.stats.cache_hits.values()), sum(run.stats.cache_misses.values()),
                  len(helper.signatures), small.run is not run.py_func, type(small.pair).__name__]))
'''


def test_helpers_are_compiled_too_and_a_second_process_compiles_nothing(tmp_path: Path) -> None:
    if importlib.util.find_spec("numba") is None:
        pytest.skip("numba is not installed here")
    import json

    root = str(Path(__file__).resolve().parents[2])
    (tmp_path / "small.py").write_text(MODULE.format(share=0.5), encoding="utf-8")

    def process() -> Any:
        code = TRY.format(root=root, folder=str(tmp_path))
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    answer = 0.5 * 4.0 + 4
    assert process() == [answer, 0, 1, 1, True, "function"]  # compiled, its helper with it; the module keeps its plain ones
    assert process() == [answer, 1, 0, 0, True, "function"]  # all of it from the disk
    (tmp_path / "small.py").write_text(MODULE.format(share=0.25), encoding="utf-8")
    assert process()[:3] == [0.25 * 4.0 + 4, 0, 1]  # and not when the text has changed


def test_what_numba_keeps_is_not_used_when_another_module_has_changed(tmp_path: Path) -> None:
    """numba watches the text of a function's own module; here the helper and the constant stand in another."""
    if importlib.util.find_spec("numba") is None:
        pytest.skip("numba is not installed here")
    root = str(Path(__file__).resolve().parents[2])
    text = "from other import SHARE, root\n\ndef run(x):\n    return SHARE * root(x)\n"
    (tmp_path / "small.py").write_text(text, encoding="utf-8")
    code = (f"import sys; sys.path.insert(0, {root!r}); sys.path.insert(0, {str(tmp_path)!r}); import small\n"
            "from coilmodel.compiled import fastest\n"
            "print(fastest(small.run)(4.0), len(fastest(small.run).stats.cache_hits))")

    def process(share: float, power: float) -> str:
        text = f"import math\n\nSHARE = {share}\n\ndef root(x):\n    return {power} * math.sqrt(x)\n"
        (tmp_path / "other.py").write_text(text, encoding="utf-8")
        done = subprocess.run([sys.executable, "-B", "-c", code], capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    assert process(0.5, 1.0) == "1.0 0"
    assert process(0.5, 1.0) == "1.0 1"
    assert process(0.25, 1.0) == "0.5 0"
    assert process(0.5, 3.0) == "3.0 0"
