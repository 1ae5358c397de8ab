"""The kernel compiled by LLVM alone: Python's numbers to the last bit, without numba and numpy, compiled once and no oftener."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from array import array
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from coilmodel import compiled, kernel

from .test_kernel_homes import DRIVES, MACHINES, run_flat
from .test_kernel_page import call_of, drawn, natively
from .test_translate import ROOM, TEXTS, P, in_python

light = pytest.importorskip("coilmodel.light")
ROOT = Path(__file__).resolve().parents[2]
MANY = 200
ADVANCE = light.fastest(kernel.advance)


def module_of(text: str, folder: Path) -> ModuleType:
    """Return a module with this text, from a file of its own."""
    path = folder / "small.py"
    path.write_text("import math\n" + text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("small", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "dont_write_bytecode", True)  # what Python keeps of a text may be of the one before
        spec.loader.exec_module(module)
    return module


NO_NUMBER = """
def f(p: list[float], out: list[float]) -> None:
    huge = 1e308 * p[5]
    none = huge - huge
    out[0] = 1.0 if none == none else 2.0
    out[1] = 1.0 if none != none else 2.0
    out[2] = 1.0 if none < 1.0 or none >= 1.0 else 2.0
    out[3] = 1.0 if not none <= 1.0 else 2.0
    out[4] = min(none, 1.0) if min(1.0, none) == 1.0 else 3.0
    out[4] = 1.0 if out[4] != out[4] else 2.0
    out[5] = max(1.0, none)
    out[6] = 1.0 if none else 2.0
"""


# --------------------------------------------------------------------------------------------------------- the numbers
@pytest.mark.parametrize("text", [*TEXTS.values(), NO_NUMBER], ids=[*TEXTS, "no number compared"])
def test_llvm_does_what_python_does(tmp_path: Path, text: str) -> None:
    out = light.buffer(ROOM)
    light.fastest(module_of(text, tmp_path).f)(P, out)
    assert list(out) == in_python(text)


@pytest.mark.parametrize("drive", DRIVES)
@pytest.mark.parametrize("machine", MACHINES)
def test_the_kernel_gives_the_numbers_of_the_plain_one(machine: str, drive: str) -> None:
    plain = run_flat(kernel.advance, lambda size: [0.0] * size, MACHINES[machine], DRIVES[drive])
    assert run_flat(ADVANCE, light.buffer, MACHINES[machine], DRIVES[drive]) == plain


def test_many_machines_run_as_they_do_under_numba() -> None:
    if compiled.HOME != "numba":
        pytest.skip("numba is not installed: there is nothing to hold it against")
    for seed in range(MANY):
        name, given = call_of(*drawn(seed), pulses=2)
        _, native = natively((name, given))
        buffers = [array("d", bytes(8 * len(one))) for one in given[1:]]
        ADVANCE(tuple(given[0]), *buffers)
        assert buffers == [array("d", one) for one in native[1:]], seed


@pytest.mark.parametrize(("given", "says"), [
    ((), "takes p, out; 0 were given"), (((1.0,),), "takes p, out; 1 were given"), (((1.0,), [0.0]), "out: list is neither"),
    (((1.0,), array("f", [0.0])), "out: array is neither"), ((3.0, array("d", [0.0])), "p: float is neither"),
])
def test_what_it_cannot_run_on_is_refused_before_it_runs(tmp_path: Path, given: tuple[Any, ...], says: str) -> None:
    function = light.fastest(module_of("def f(p: list[float], out: list[float]) -> None:\n    out[0] = p[0]", tmp_path).f)
    with pytest.raises(ValueError, match=says):
        function(*given)


# ------------------------------------------------------------------------------------------------- what is kept on disk
DOUBLE = "def f(p: list[float], out: list[float]) -> None:\n    out[0] = 2.0 * p[0]\n"


def doubled(module: ModuleType) -> float:
    out = light.buffer(1)
    light.fastest(module.f)((21.0,), out)
    return out[0]


def test_it_is_compiled_once_and_anew_when_the_text_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = []
    compiling = light.machine_code
    monkeypatch.setattr(light, "machine_code", lambda function: made.append(1) or compiling(function))
    module = module_of(DOUBLE, tmp_path)
    assert [doubled(module), doubled(module), len(made)] == [42.0, 42.0, 1]
    [kept] = (tmp_path / "__pycache__").glob("*.code")
    kept.write_bytes(kept.read_bytes()[:-100])  # cut short, as by a full disk
    assert [doubled(module), len(made)] == [42.0, 2]
    changed = module_of(DOUBLE.replace("2.0", "3.0"), tmp_path)
    assert [doubled(changed), len(made)] == [63.0, 3]
    assert len(list((tmp_path / "__pycache__").glob("*.code"))) == 1, "what was kept of the former text is gone"
    monkeypatch.setenv("NUMBA_CPU_NAME", "generic")
    monkeypatch.setenv("NUMBA_CPU_FEATURES", "")
    light._processor.cache_clear()
    assert [doubled(changed), len(made)] == [63.0, 4], "another processor has other code"
    light._processor.cache_clear()


def test_where_nothing_can_be_kept_it_runs_all_the_same(tmp_path: Path) -> None:
    module = module_of(DOUBLE, tmp_path)
    (tmp_path / "__pycache__").write_text("a file where the folder should be")
    assert doubled(module) == 42.0


# ---------------------------------------------------------------------------------------------------- a process of many
RUN = """
import sys
from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.compiled import HOME
run = simulate(Machine(), MagnetoDrive(), pulses=2, record=(0, 0))
print(HOME, "numba" in sys.modules, "numpy" in sys.modules, run.meter.mean, run.openings[0].current, sum(run.strips.current))
"""


def run_with(**variables: str) -> list[str]:
    kept = {name: value for name, value in os.environ.items() if name != compiled.LIGHT}
    command = [sys.executable, "-c", RUN]
    done = subprocess.run(command, cwd=ROOT, env=kept | variables, capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_a_process_of_many_loads_neither_numba_nor_numpy_and_has_the_same_numbers() -> None:
    light_one, usual = run_with(**{compiled.LIGHT: "1"}), run_with()
    assert light_one[:3] == ["LLVM", "False", "False"]
    assert usual[0] in ("numba", "plain")
    assert light_one[3:] == usual[3:]
