"""The list of slow tests: what is measured anew replaces what it held, and what it names is marked and left out by --quick."""

from __future__ import annotations

import re
import runpy
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SLOW = [line for line in (ROOT / "tests/slow.txt").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]


def test_what_was_run_is_judged_anew_and_the_rest_stays() -> None:
    listed = runpy.run_path(str(ROOT / "benchmarks/test_times.py"))["listed"]
    assert listed({"a::one", "a::two", "b::three"}, {"a::one": [0.1, 0.6], "a::two": [0.2], "c::four": [0.4, 9.0]}) == [
        "a::one", "b::three", "c::four"]


def test_every_line_names_a_test_that_there_is() -> None:
    for line in SLOW:
        file, _, name = line.partition("::")
        assert f"def {name.rpartition('::')[2]}(" in (ROOT / file).read_text(encoding="utf-8"), f"there is no {line}"


def test_the_tests_of_a_file_go_to_one_worker_and_those_with_a_browser_to_one(tmp_path: Path) -> None:
    """Shown on the project's own conftest with small files: who ran what stands in the report of two workers."""
    tests = tmp_path / "tests"
    tests.mkdir()
    shutil.copy(ROOT / "tests/conftest.py", tests)
    many = "import pytest\n{mark}\n@pytest.mark.parametrize('n', range(6))\ndef test_it(n): pass\n"
    for name in "abcdefg":
        mark = "" if name in "ab" else "pytestmark = pytest.mark.browser"
        (tests / f"test_{name}.py").write_text(many.format(mark=mark), encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-v", "-n", "2", "--dist", "loadscope", "-p", "no:cacheprovider", "--rootdir=."]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    ran = re.findall(r"^\[(gw\d)\].* PASSED tests/test_(\w)\.py::", done.stdout, re.MULTILINE)
    assert len(ran) == 42, done.stdout + done.stderr
    by_file = {name: {worker for worker, file in ran if file == name} for name in "abcdefg"}
    assert all(len(workers) == 1 for workers in by_file.values())
    assert len(set.union(*(by_file[name] for name in "cdefg"))) == 1


def test_a_listed_test_is_left_out_of_a_run_without_slow_ones() -> None:
    line = next(line for line in SLOW if line.startswith("tests/model/"))
    command = [sys.executable, "-m", "pytest", "--co", "-q", "-p", "no:cacheprovider", line.partition("::")[0], "-m"]
    found = {words: subprocess.run([*command, words], cwd=ROOT, capture_output=True, text=True).stdout
             for words in ("slow", "not slow")}
    assert line in found["slow"]
    assert f"{line}\n" not in found["not slow"]
    assert f"{line}[" not in found["not slow"]
