"""The tool that plants small errors (benchmarks/bite.py, mutants.py) plants what it says and tells what notices it from what does
not; its list of harmless errors is up to date."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

pytest.importorskip("resource", reason="The tool forks, which Windows does not.")

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"


def load(name: str) -> ModuleType:
    """Return a script of benchmarks/ as a module: they are scripts, not a package."""
    spec = importlib.util.spec_from_file_location(name, BENCHMARKS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # a dataclass looks itself up there, and bite.py imports mutants
    spec.loader.exec_module(module)
    return module


mutants = load("mutants")
bite = load("bite")

SAMPLE = '''
"""Words."""
TABLE = (10, 15)

def share(part: float, whole: float, least: float = 0.5) -> float:
    """Words with a number, 3."""
    size = checked("size", part, "m", 0.0, 1e3)
    if not size < least and whole != 0.0:
        whole -= 1
    tell(whole)
    if whole > 2.0:
        raise ValueError(f"{whole + 1}")
    return -math.sqrt(size / whole)
'''


@pytest.mark.parametrize("change", [
    "TABLE = (10, 15)  ->  TABLE = (11, 15)",
    "0.5  ->  0.55",
    "size = checked('size', part, 'm', 0.0, 1000.0)  ->  size = checked('size', part, 'm', 0.0, 1100.0)",
    "if not size < least and whole != 0.0: ...  ->  if not size < least or whole != 0.0: ...",
    "if not size < least and whole != 0.0: ...  ->  if not (not size < least and whole != 0.0): ...",
    "if not size < least and whole != 0.0: ...  ->  if size < least and whole != 0.0: ...",
    "if not size < least and whole != 0.0: ...  ->  if not size <= least and whole != 0.0: ...",
    "if not size < least and whole != 0.0: ...  ->  if not size > least and whole != 0.0: ...",
    "whole -= 1  ->  whole += 1", "whole -= 1  ->  whole -= 2", "whole -= 1  ->  pass",
    "tell(whole)  ->  pass",
    "return -math.sqrt(size / whole)  ->  return math.sqrt(size / whole)",
    "return -math.sqrt(size / whole)  ->  return -(size / whole)",
    "return -math.sqrt(size / whole)  ->  return -math.sqrt(size * whole)"])
def test_every_kind_of_small_error_is_planted(change: str) -> None:
    keys = [mutant.key for mutant in mutants.mutants("m", SAMPLE)]
    scope = "<module>" if change.startswith("TABLE") else "share"
    assert f"m.{scope}: {change}" in keys, "\n".join(keys)


def test_names_are_swapped_within_their_kind_and_words_are_left_alone() -> None:
    keys = [mutant.key for mutant in mutants.mutants("m", SAMPLE)]
    swapped = [key for key in keys if "-math.sqrt(size / whole)  ->  return -math.sqrt(" in key and "*" not in key]
    assert len(swapped) == 2, swapped
    assert not [key for key in keys if "sqrt(part" in key], "size holds the very number of part"
    assert not [key for key in keys if "Words" in key or "whole + 1" in key]


def test_planting_changes_one_line_of_a_copy() -> None:
    every = mutants.mutants("m", SAMPLE)
    assert len({mutant.key for mutant in every}) == len(every) > 20
    usual = ast.unparse(ast.parse(SAMPLE)).splitlines()
    for mutant in every:
        changed = ast.unparse(mutant.tree()).splitlines()
        assert sum(a != b for a, b in zip(usual, changed, strict=True)) == 1, mutant.key


def test_harmless_errors_can_still_be_planted_and_have_reasons() -> None:
    known = bite.harmless()
    there = {mutant.key for module in bite.TESTS
             for mutant in mutants.mutants(module, bite.source(module).read_text(encoding="utf-8"))}
    assert not [key for key in known if key not in there], "these lines of harmless_mutants.txt fit nothing any more"
    assert known
    assert all(len(reason) > 10 for reason in known.values())


def test_every_module_has_its_tests() -> None:
    for names in bite.TESTS.values():
        for name in names:
            assert (BENCHMARKS.parent / "tests" / "model" / f"{name}.py").exists(), name


def test_an_error_that_is_noticed_is_told_from_one_that_survives() -> None:
    """Really planted, in forks of a process of its own: one that changes nothing, one that does, one that never ends; and one in
    the kernel, which is compiled anew.
    """
    code = (
        "import sys; sys.path.insert(0, 'benchmarks')\n"
        "import bite\n"
        "bite.prepare()\n"
        "every = {one.key: one for name in ('timing', 'winding', 'kernel')\n"
        "         for one in bite.mutants(name, bite.source(name).read_text())}\n"
        "noticed = every['timing.pulse_angle: return 180.0 / _pairs(pole_pairs)  ->  return 198.0 / _pairs(pole_pairs)']\n"
        "endless = every['winding.elliptic_integrals: if abs(a - b) > 1e-15 * a: ...  ->  if abs(a + b) > 1e-15 * a: ...']\n"
        "harmless = every[next(key for key in bite.harmless() if key in every)]\n"
        "current = every['kernel.begin_opening: events[at + 1] = i1  ->  events[i1 + 1] = i1']\n"
        "timing, winding, whole = ([*bite.QUICKLY, f'tests/model/test_{name}.py']\n"
        "                          for name in ('timing', 'winding', 'phenomena'))\n"
        "print(*(bite.survives('timing', one, timing, 30.0) for one in (None, harmless, noticed)))\n"
        "print(bite.survives('winding', None, winding, 30.0), bite.survives('winding', endless, winding, 5.0))\n"
        "print(bite.survives('kernel', None, whole, 60.0), bite.survives('kernel', current, whole, 60.0))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=BENCHMARKS.parent, capture_output=True, text=True, check=False)
    assert done.stdout.split("\n")[:3] == ["True True False", "True False", "True False"], done.stdout + done.stderr
