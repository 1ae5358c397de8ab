"""How many small errors the model's fast tests would notice: `python benchmarks/bite.py` plants them and says which survive.

usage: python benchmarks/bite.py [MODULE ...] [--each N | --all] [--seed N] [--seconds S] [--quick]

Every module of TESTS has errors planted in it, one at a time (benchmarks/mutants.py says which kinds). For each, the test
files that touch the module run in a process of their own in which the module is the wrong one; nothing on the disk is changed.
The first failing test ends it. What survives is listed with file, line and change, but for those of `harmless_mutants.txt`,
which change nothing that a test could see, with the reason. Exit status 1 where under 95 in 100 of the rest are noticed.

The process is a fork of one that holds pytest, scipy and the compiled kernel already, so that an error costs a second and not
ten. It needs a system that forks (not Windows). An error in the kernel itself is written to a file of its own outside the project
and compiled there by LLVM alone (coilmodel/light.py), a second or two each; its tests include slow ones, which are asked last.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import io
import math
import os
import random
import resource
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from types import CodeType, ModuleType

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]  # run from a checkout, installed or not

from mutants import Mutant, mutants  # noqa: E402

# Module -> test files, the sharpest first; those after the first cost seconds and are asked only about what got past it.
TESTS = {
    "winding": ("test_winding", "test_calls", "test_published_values", "test_published_inputs"),
    "condenser": ("test_condenser", "test_calls", "test_published_values", "test_published_inputs"),
    "springs": ("test_springs", "test_calls", "test_published_values", "test_published_inputs"),
    "timing": ("test_timing", "test_calls", "test_published_values", "test_published_inputs"),
    "closed_forms": ("test_closed_forms", "test_calls", "test_published_values", "test_published_inputs"),
    "machine": ("test_machine", "test_bad_input"),
    "sparks": ("test_sparks", "test_readings"),
    "readings": ("test_readings", "test_bad_input"),
    "run": ("test_run", "test_readings", "test_bad_input"),
    "kernel": ("test_kernel_rows", "test_kernel_steps", "test_run", "test_chain", "test_extras", "test_reference",
               "test_phenomena", "test_spice"),
}
SLOWLY = ("test_chain", "test_phenomena", "test_spice", "test_reference")  # asked again with their slow tests: the kernel's alone
HARMLESS = ROOT / "benchmarks" / "harmless_mutants.txt"
KEPT = ("coilmodel.kernel", "coilmodel.compiled")  # compiled once, shared by all
PLAINLY = ("-xq", "--tb=no", "--assert=plain", "-p", "pytest_timeout", "-p", "no:cacheprovider", "-p", "no:unraisableexception")
QUICKLY = (*PLAINLY, "-m", "not slow")
WANTED = 0.95
MEMORY = 4 << 30  # bytes that a run away may take


def harmless() -> dict[str, str]:
    """Return the errors that change nothing a test could see, each with its reason: "key | reason" a line, # for remarks."""
    lines = HARMLESS.read_text(encoding="utf-8").splitlines() if HARMLESS.exists() else []
    pairs = [line.split(" | ", 1) for line in lines if line.strip() and not line.startswith("#")]
    return {key.strip(): reason.strip() for key, reason in pairs}


def source(module: str) -> Path:
    """Return the file of a module of the model."""
    return ROOT / "coilmodel" / f"{module}.py"


class _Wrong(importlib.machinery.SourceFileLoader):
    """Loads one module from a changed tree; everything else of it (its file, its package) is as usual."""

    def __init__(self, name: str, path: str, tree: ast.Module) -> None:
        super().__init__(name, path)
        self._tree = tree

    def get_code(self, fullname: str) -> CodeType | None:
        return compile(self._tree, self.path, "exec")


class _Finder(importlib.abc.MetaPathFinder):
    """Gives the wrong module when its name is asked for."""

    def __init__(self, name: str, path: str, tree: ast.Module) -> None:
        self._name, self._loader = name, _Wrong(name, path, tree)

    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None,
                  ) -> importlib.machinery.ModuleSpec | None:
        if name != self._name:
            return None
        return importlib.util.spec_from_file_location(name, self._loader.path, loader=self._loader)


def prepare() -> None:
    """Import what every child will want, and compile the kernel, before the first fork."""
    import hypothesis
    import pytest
    import scipy.integrate
    import scipy.linalg
    import scipy.optimize
    import scipy.special

    from coilmodel import Machine, MagnetoDrive, simulate
    simulate(Machine(), MagnetoDrive(), pulses=1, warm_up=0)
    del hypothesis, pytest, scipy
    for name in [name for name in sys.modules if name.split(".")[0] == "coilmodel" and name not in KEPT]:
        del sys.modules[name]
    gc.freeze()  # what is here stays: the children need not look through it again


def survives(module: str, mutant: Mutant | None, tests: Sequence[str], seconds: float) -> bool:
    """Return whether the tests pass with the error planted (None: without any) and within so much of the processor's time."""
    with tempfile.TemporaryDirectory() as folder:
        child = os.fork()
        if not child:
            _run_tests(module, mutant, tests, seconds, Path(folder))
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def _plant(module: str, mutant: Mutant | None, folder: Path) -> None:
    """Let the next import of the module find the wrong one."""
    name, tree = f"coilmodel.{module}", mutant.tree() if mutant else ast.parse(source(module).read_text(encoding="utf-8"))
    if name not in KEPT:
        sys.meta_path.insert(0, _Finder(name, str(source(module)), tree))
        return
    for kept in KEPT:
        del sys.modules[kept]
    os.environ["COILMODEL_LIGHT"] = "1"  # the compiler that reads a file's text, and takes a second
    path = folder / source(module).name
    path.write_text(ast.unparse(tree), encoding="utf-8")
    sys.meta_path.insert(0, _Finder(name, str(path), ast.parse(path.read_text(encoding="utf-8"))))


def _run_tests(module: str, mutant: Mutant | None, tests: Sequence[str], seconds: float, folder: Path) -> None:
    """In the child: plant the error, run the tests, and leave with pytest's status; never returns."""
    status = 99
    try:
        limit = math.ceil(time.process_time() + seconds)  # of the processor, not the clock: others may share the machine
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        _plant(module, mutant, folder)
        import pytest
        os.chdir(ROOT)
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # none is wanted here, and to load them costs more than the tests
        with contextlib.redirect_stdout(io.StringIO()):
            status = int(pytest.main([*tests]))
    finally:
        os._exit(status)


def rounds(module: str, quick: bool) -> list[tuple[str, ...]]:
    """Return what pytest is told in each round that an error of the module must get past; `quick`: only the first two."""
    told: list[tuple[str, ...]] = [(*QUICKLY, f"tests/model/{name}.py") for name in TESTS[module]]
    if f"coilmodel.{module}" in KEPT:
        told += [(*PLAINLY, "-m", "slow", f"tests/model/{name}.py") for name in SLOWLY]
    return told[:2] if quick else told


def judge(module: str, chosen: Sequence[Mutant], seconds: float, quick: bool) -> list[Mutant]:
    """Return those of the chosen errors that no test file of the module notices."""
    asked = rounds(module, quick)
    for one in asked:
        if not survives(module, None, one, seconds):
            raise SystemExit(f"{one[-1]} does not pass, or takes over {seconds:g} s, with nothing planted: mend that first.")
    return [mutant for mutant in chosen if _told(mutant, all(survives(module, mutant, one, seconds) for one in asked))]


def _told(mutant: Mutant, survived: bool) -> bool:
    """Say at once which error survived: a run takes long."""
    if survived:
        print(f"  coilmodel/{mutant.module}.py:{mutant.line}  {mutant.key}", flush=True)
    return survived


def main() -> int:
    parser = argparse.ArgumentParser(description="Plant small errors in the model and say which the fast tests miss.")
    parser.add_argument("modules", nargs="*", metavar="MODULE", default=list(TESTS), help=f"of {', '.join(TESTS)}")
    parser.add_argument("--each", type=int, default=40, metavar="N", help="errors drawn a module (40)")
    parser.add_argument("--all", action="store_true", help="every error there is: an hour or so")
    parser.add_argument("--seed", type=int, default=1, help="of the draw (1)")
    parser.add_argument("--seconds", type=float, default=60.0,
                        help="of the processor, for one test file; beyond, the error counts as noticed (60)")
    parser.add_argument("--quick", action="store_true", help="only the two quickest test files of each module")
    asked = parser.parse_args()
    known = harmless()
    prepare()
    total = missed = 0
    for module in asked.modules:
        begun = time.monotonic()
        every = mutants(module, source(module).read_text(encoding="utf-8"))
        tried = [mutant for mutant in every if mutant.key not in known]
        if not asked.all and asked.each < len(tried):
            tried = sorted(random.Random(f"{asked.seed} {module}").sample(tried, asked.each), key=lambda one: one.line)
        left = judge(module, tried, asked.seconds, asked.quick)
        total, missed = total + len(tried), missed + len(left)
        print(f"{module}: {len(tried) - len(left)} of {len(tried)} noticed ({_percent(len(tried) - len(left), len(tried))}), "
              f"{len(every)} possible, {len(every) - sum(m.key not in known for m in every)} known to be harmless, "
              f"{time.monotonic() - begun:.0f} s", flush=True)
    print(f"in all: {total - missed} of {total} noticed ({_percent(total - missed, total)})")
    return 0 if total - missed >= WANTED * total else 1


def _percent(part: int, whole: int) -> str:
    return f"{100.0 * part / max(whole, 1):.1f} %"


if __name__ == "__main__":
    sys.exit(main())
