"""The list of slow tests: what is measured anew replaces what it held, and what it names is marked and left out by --quick."""

from __future__ import annotations

import runpy
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


def test_a_listed_test_is_left_out_of_a_run_without_slow_ones() -> None:
    line = next(line for line in SLOW if line.startswith("tests/model/"))
    command = [sys.executable, "-m", "pytest", "--co", "-q", "-p", "no:cacheprovider", line.partition("::")[0], "-m"]
    found = {words: subprocess.run([*command, words], cwd=ROOT, capture_output=True, text=True).stdout
             for words in ("slow", "not slow")}
    assert line in found["slow"]
    assert f"{line}\n" not in found["not slow"]
    assert f"{line}[" not in found["not slow"]
