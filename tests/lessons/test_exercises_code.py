"""A learner's function can go wrong in any way; it must end soon, and say where."""

from __future__ import annotations

import sys
import time

import pytest

from lessons.exercises import learner_code
from lessons.exercises.learner_code import CodeFault, code_never_runs, may_run, run


def fault(source: str) -> str:
    with pytest.raises(CodeFault) as caught:
        run(source, "f", [[1.5], [2.0]])
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("source", [
    "def f(x):\n    y = 0\n    for i in range(3):\n        y += x ** 2\n    return y",
    "from math import sqrt\nimport math as m\ndef f(x):\n    return m.pow(sqrt(3 * x * x), 2)",
    "class Box:\n    def of(self, x):\n        return 3 * x * x\ndef f(x):\n    return Box().of(x)",
    "def f(x):\n    'says what'\n    return sum([x * x for _ in range(3)])",
    "def f(x):\n    def parts():\n        for i in range(3):\n            yield x * x\n    return sum(parts())",
    "def f(x, n=3):\n    return n * x ** 2",
    "def g(n, x):\n    return 0 if n == 0 else x * x + g(n - 1, x)\ndef f(x):\n    return g(3, x)",
    "def f(x):\n    a = [1]\n    b = a\n    b += [2]\n    return sum(a) * x * x",
    "def f(x):\n    d = {}\n    d['k'] = 1\n    d['k'] += 2\n"
    "    try:\n        return d['k'] * x * x\n    finally:\n        print('done')",
    "def f(x):\n    match 3:\n        case n:\n            return n * x * x",
])
def test_plain_python_works(source: str) -> None:
    assert run(source, "f", [[1.5], [2.0]]) == pytest.approx([6.75, 12.0])


@pytest.mark.parametrize(("source", "line"), [
    ("def f(x):\n    while True: pass", 2),
    ("def f(x):\n    while True:\n        try:\n            while True: pass\n        except:\n            pass", 2),
    ("def f(x):\n    while True:\n        try:\n            pass\n        finally:\n            continue", 2),
    ("def f(x):\n    return [0 for i in range(1000) for j in range(10**6)]", 2),
    ("def f(x):\n    def g():\n        while True: yield 1\n    return sum(g())", 3),
    ("while 1:\n    pass\ndef f(x): return 1", 1),
    ("def f(x):\n    a = [1]\n    for i in a:\n        a.append(i)", 3),
    ("def f(x):\n    for i in range(10**6):\n        sum(range(10**6))", 2),
])
def test_what_never_ends_is_stopped(source: str, line: int) -> None:
    began = time.perf_counter()
    assert fault(source).startswith(f"Line {line}: it takes too long")
    assert time.perf_counter() - began < 2 * learner_code.SECONDS + 1


@pytest.mark.parametrize("source", [
    "def f(x):\n    return f(x + 1)", "g = lambda x: g(x)\ndef f(x):\n    return g(x)",
    "def f(x):\n    return h(x)\ndef h(x):\n    return f(x)",
])
def test_endless_recursion_is_stopped(source: str) -> None:
    limit = sys.getrecursionlimit()
    assert "calls itself" in fault(source)
    assert sys.getrecursionlimit() == limit


@pytest.mark.parametrize("source", [
    "def f(x): return 10 ** 10 ** 8", "def f(x): return sum(range(10 ** 12))", "def f(x): return len(range(10 ** 30))",
    "def f(x):\n    s = 'a'\n    while 1: s += s", "def f(x):\n    s = 'a'\n    while 1: s = s + s",
    "def f(x):\n    y = 3\n    while 1: y = y * y",
    "def f(x):\n    y = 3\n    while 1: y *= y", "def f(x): return [0] * 10 ** 10", "def f(x): return 1 << 10 ** 9",
    "def f(x): return pow(7, 10 ** 8)",
    "import math\ndef f(x): return math.factorial(10 ** 7)", "def f(x): return 'ab' * 10 ** 9",
])
def test_what_grows_without_measure_is_stopped(source: str) -> None:
    began = time.perf_counter()
    assert "without measure" in fault(source)
    assert time.perf_counter() - began < 1.0


@pytest.mark.parametrize(("source", "says"), [
    ("import os\ndef f(x): return 1", "only math"), ("def f(x): return open('a')", "NameError"),
    ("def f(x): return eval('1')", "NameError"),
    ("def f(x): return ().__class__", "underscore"), ("def f(x): return x._y", "underscore"),
    ("__builtins__ = 1\ndef f(x): return 1", "underscore"),
    ("def f(x):\n    __tick__ = 1", "underscore"), ("def f(__tick__): return 1", "underscore"),
    ("import math as __tick__", "underscore"),
    ("def f(x):\n    global __tick__", "underscore"), ("async def f(x): return 1", "async"),
    ("def f(x):\n  return (", "cannot read"),
    ("def f(x):\0", "cannot read"), ("x = " + "(" * 100 + "1" + ")" * 100, "too deep"), ("x = " + "-" * 6000 + "1", "too deep"),
    ("y" * 9000, "too long"), ("def f(x): return input()", "NameError"),
    ("def f(x): raise ValueError('no\\nway.')", "ValueError: no way."),
    ("def f(x): raise Exception(10 ** 4999)", "Line 1: Exception."), ("def f(x):\n\n    assert x < 0", "Line 3: AssertionError."),
    ("def f(x):\n    return x['a']", "Line 2: TypeError"), ("def f():\n    return 1", "does not take"),
    ("f = 3", "no function named f"),
    ("f = lambda: 3", "does not take"), ("class f: pass", "no function named f"), ("\ud800", "cannot read"),
])
def test_what_is_wrong_is_said(source: str, says: str) -> None:
    assert says in fault(source)


def test_the_budget_is_for_all_cases_together_and_the_same_everywhere() -> None:
    source = "def f(n):\n    for _ in range(n):\n        pass\n    return n"
    assert run(source, "f", [[100]] * 5, ticks=600) == [100] * 5
    with pytest.raises(CodeFault, match="too long"):
        run(source, "f", [[100]] * 5, ticks=400)


def test_arguments_and_names_are_not_shared() -> None:
    cases = [[[1, 2]], [[1, 2]]]
    source = "seen = []\nimport math\ndef f(a):\n    a.append(3)\n    math.pi = 3\n    return len(a)"
    assert run(source, "f", cases) == [3, 3]
    assert cases == [[[1, 2]], [[1, 2]]]
    assert run("import math\ndef f(a):\n    return math.pi", "f", cases) == pytest.approx([3.14159265] * 2)


def test_printing_does_not_flood(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("def f(x):\n    for i in range(1000): print('x' * 1000)\n    return 1", "f", [[1]]) == [1]
    assert capsys.readouterr() == ("", "")


def test_a_flag_keeps_all_code_from_running() -> None:
    assert may_run()
    with code_never_runs():
        assert not may_run()
        with code_never_runs(), pytest.raises(RuntimeError):
            run("def f(x): return 1", "f", [[1]])
        assert not may_run()
    assert may_run()
