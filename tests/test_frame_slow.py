"""The list of slow tests: what is measured anew replaces what it held, and what it names is marked and left out by --quick."""

from __future__ import annotations

import contextlib
import re
import runpy
import shutil
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

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


MANY = "import pytest\n{mark}\n@pytest.mark.parametrize('n', range(6))\ndef test_it(n):\n    {does}\n"
WAITS = """import glob, time
    wanted = 6 * {count} if n == 0 else 0
    for _ in range(600):
        if len(glob.glob("*.ran")) >= wanted: return
        time.sleep(0.1)
    raise AssertionError("the other worker waits for the book too")"""


def ran_by(folder: Path, **files: str) -> list[tuple[str, str]]:
    """Run small files under the project's own conftest by two workers; return (worker, file) of every test in order."""
    for name, text in files.items():
        path = folder / "tests" / f"{name.replace('__', '/')}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    shutil.copy(ROOT / "tests/conftest.py", folder / "tests")
    command = [sys.executable, "-m", "pytest", "-v", "-n", "2", "--dist", "loadscope", "-p", "no:cacheprovider", "--rootdir=."]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    ran = re.findall(r"^\[(gw\d)\].* PASSED tests/([\w/]+)\.py::", done.stdout, re.MULTILINE)
    assert len(ran) == 6 * len(files), done.stdout + done.stderr
    return ran


def test_the_tests_of_a_file_go_to_one_worker_and_all_of_jupyterlab_to_one(tmp_path: Path) -> None:
    names = ["book__test_c", "book__test_jupyterlab", "book__test_of_jupyterlab", *(f"lessons__test_{name}" for name in "abefg")]
    ran = ran_by(tmp_path, **{
        name: MANY.format(mark="" if name[-1] in "ab" and "book" not in name else "pytestmark = pytest.mark.browser", does="pass")
        for name in names})
    by_file = {file: {worker for worker, each in ran if each == file} for _, file in ran}
    assert all(len(workers) == 1 for workers in by_file.values())
    assert by_file["book/test_jupyterlab"] == by_file["book/test_of_jupyterlab"]
    for worker in ("gw0", "gw1"):
        order = list(dict.fromkeys(file for each, file in ran if each == worker))
        short = [file in ("lessons/test_a", "lessons/test_b") for file in order]
        assert short == sorted(short)  # the shortest last


def test_while_one_worker_builds_the_book_the_other_does_all_that_needs_none(tmp_path: Path) -> None:
    """The first test of the book is as long in building as there is one of the others that has not been run."""
    others = ["book__test_jupyterlab", *(f"lessons__test_{name}" for name in "abefg")]
    marked = "pytestmark = pytest.mark.slow"
    waits = MANY.format(mark=marked, does=WAITS.format(count=len(others)))
    writes = MANY.format(mark="", does="open(f'{__name__}{n}.ran', 'w').close()")
    ran = ran_by(tmp_path, book__test_c=waits, book__test_d=waits, **dict.fromkeys(others, writes))
    [builds] = {worker for worker, file in ran if file == "book/test_c"}
    assert {worker for worker, file in ran if not file.startswith("book/") or "jupyterlab" in file} == {"gw0", "gw1"} - {builds}


def test_the_book_is_built_once_for_all_and_a_failure_is_said_to_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from .book import conftest

    made = tmp_path / "root/book/_build/html"
    made.mkdir(parents=True)
    (made / "index.html").write_text("a book", encoding="utf-8")
    monkeypatch.setattr(conftest, "ROOT", tmp_path / "root")
    built, both = [], threading.Barrier(2)

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        built.append(command)
        with contextlib.suppress(threading.BrokenBarrierError):  # where two build at once, both come here
            both.wait(timeout=0.5)
        return subprocess.CompletedProcess(command, status, "the sentence", "")

    monkeypatch.setattr(conftest.subprocess, "run", run)
    for status, folder in ((0, "a stick"), (1, "a full stick")):
        built.clear()
        both.reset()
        with ThreadPoolExecutor(2) as pool:
            asked = [pool.submit(conftest.built_once, tmp_path / folder) for _ in range(2)]
        assert len(built) == 1
        for one in asked:
            if status:
                assert "the sentence" in str(one.exception())
            else:
                assert (one.result() / "index.html").read_text(encoding="utf-8") == "a book"


def test_a_listed_test_is_left_out_of_a_run_without_slow_ones() -> None:
    line = next(line for line in SLOW if line.startswith("tests/model/"))
    command = [sys.executable, "-m", "pytest", "--co", "-q", "-p", "no:cacheprovider", line.partition("::")[0], "-m"]
    found = {words: subprocess.run([*command, words], cwd=ROOT, capture_output=True, text=True).stdout
             for words in ("slow", "not slow")}
    assert line in found["slow"]
    assert f"{line}\n" not in found["not slow"]
    assert f"{line}[" not in found["not slow"]
