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


def test_the_tests_of_a_file_go_to_one_worker_and_those_that_need_the_book_to_one(tmp_path: Path) -> None:
    """Shown on the project's own conftest with small files: who ran what stands in the report of two workers."""
    many = "import pytest\n{mark}\n@pytest.mark.parametrize('n', range(6))\ndef test_it(n): pass\n"
    files = ["book/test_c", "book/test_d", "book/test_jupyterlab", *(f"lessons/test_{name}" for name in "abefg")]
    for name in files:
        mark = "" if name[-1] in "ab" else "pytestmark = pytest.mark.browser"
        (tmp_path / "tests" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / f"tests/{name}.py").write_text(many.format(mark=mark), encoding="utf-8")
    shutil.copy(ROOT / "tests/conftest.py", tmp_path / "tests")
    command = [sys.executable, "-m", "pytest", "-v", "-n", "2", "--dist", "loadscope", "-p", "no:cacheprovider", "--rootdir=."]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    ran = re.findall(r"^\[(gw\d)\].* PASSED tests/([\w/]+)\.py::", done.stdout, re.MULTILINE)
    assert len(ran) == 6 * len(files), done.stdout + done.stderr
    by_file = {name: {worker for worker, file in ran if file == name} for name in files}
    assert all(len(workers) == 1 for workers in by_file.values())
    assert by_file["book/test_c"] == by_file["book/test_d"] != by_file["book/test_jupyterlab"]
    for worker in ("gw0", "gw1"):
        order = list(dict.fromkeys(file for each, file in ran if each == worker))
        assert order[0].startswith("book/")  # the longest first
        short = [file in ("lessons/test_a", "lessons/test_b") for file in order]
        assert short == sorted(short)  # and the shortest last


def test_a_listed_test_is_left_out_of_a_run_without_slow_ones() -> None:
    line = next(line for line in SLOW if line.startswith("tests/model/"))
    command = [sys.executable, "-m", "pytest", "--co", "-q", "-p", "no:cacheprovider", line.partition("::")[0], "-m"]
    found = {words: subprocess.run([*command, words], cwd=ROOT, capture_output=True, text=True).stdout
             for words in ("slow", "not slow")}
    assert line in found["slow"]
    assert f"{line}\n" not in found["not slow"]
    assert f"{line}[" not in found["not slow"]
