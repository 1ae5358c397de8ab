"""course.py: what it says to a wrong command line, and when it makes its environment again.

The making itself (a minute of downloads) is not repeated here: that these tests run at all shows it. Instead a copy of
course.py in an empty folder is given stand-ins for pip and npm that can be made to fail.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]


def course(*words: str) -> subprocess.CompletedProcess[str]:
    """Run course.py from another folder."""
    return subprocess.run([sys.executable, str(ROOT / "course.py"), *words], cwd="/", capture_output=True, text=True)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "arguments are required: COMMAND"),
        (("lern",), "invalid choice: 'lern'"),
        (("learn", "--port", "many"), "'many' is not a port number from 1 to 65535"),
        (("learn", "--port", "70000"), "'70000' is not a port number from 1 to 65535"),
        (("learn", "--fast"), "unrecognized arguments: --fast"),
        (("bench",), "arguments are required: SHEET.csv"),
        (("bench", "a.csv", "b.csv"), "unrecognized arguments: b.csv"),
        (("study",), "arguments are required: PLAN.toml"),
        (("grade",), "arguments are required: FOLDER"),
        (("grade", "a", "b"), "unrecognized arguments: b"),
        (("book", "now"), "unrecognized arguments: now"),
    ],
)
def test_a_wrong_command_line_is_told_what_is_wrong(words: tuple[str, ...], complaint: str) -> None:
    done = course(*words)
    assert done.returncode == 2
    assert complaint in done.stderr
    assert done.stdout == ""


def test_help_names_every_command() -> None:
    done = course("--help")
    assert done.returncode == 0
    assert all(f"\n    {command}" in done.stdout for command in ("learn", "test", "book", "bench", "grade"))


def asked_of_pytest(monkeypatch: pytest.MonkeyPatch, *words: str, processors: int = 2) -> list[str]:
    """What `course.py test` with these words asks pytest."""
    spec = importlib.util.spec_from_file_location("course_itself", ROOT / "course.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    seen: list[str] = []
    monkeypatch.setattr(module, "make_environment", lambda tests: None)
    monkeypatch.setattr(module, "make_parts", lambda: None)
    monkeypatch.setattr(module.os, "cpu_count", lambda: processors)
    monkeypatch.setattr(module, "hand_over", lambda *command, cwd: seen.extend(map(str, command)) or 0)
    assert module.main(["test", *words]) == 0
    return seen[3:]


def test_tests_run_side_by_side_unless_one_process_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    beside = ["-n", "2", "--dist", "loadscope"]
    assert asked_of_pytest(monkeypatch) == beside
    assert asked_of_pytest(monkeypatch, "-k", "words", "--lf") == [*beside, "-k", "words", "--lf"]
    assert asked_of_pytest(monkeypatch, processors=1) == []
    for words in (["-n0"], ["-n", "3"], ["--pdb"], ["-s"], ["--capture=no"], ["--co", "-q"]):
        assert asked_of_pytest(monkeypatch, *words) == words


def test_the_quick_run_says_what_it_leaves_out(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    fast = ["-m", "not slow and not browser and not ngspice"]
    assert asked_of_pytest(monkeypatch, "--quick")[-3:] == ["tests/model", *fast]
    told = capsys.readouterr().out
    assert "the tests of lessons and book" in told
    assert "every test marked slow, browser, ngspice" in told
    assert asked_of_pytest(monkeypatch, "--quick", "tests/lessons/test_record.py")[-3:] == ["tests/lessons/test_record.py", *fast]
    told = capsys.readouterr().out
    assert "the tests of lessons and book" not in told  # it runs some of them
    assert "every test marked slow, browser, ngspice" in told


class Shop:
    """Stands in for pip, npm and venv: notes what was asked for, and stops in the middle when told to."""

    def __init__(self, module: ModuleType) -> None:
        self.module, self.fail_at = module, ""
        self.asked: list[str] = []

    def fetch(self, what: str, *command: Any, **_: Any) -> None:
        """Note what is fetched (the last word of the command names it), or be interrupted there."""
        name = str(command[-1])
        if self.fail_at and self.fail_at == name:
            raise KeyboardInterrupt
        self.asked.append(name)
        if "ci" in command:
            (self.module.BOOK / "node_modules").mkdir(exist_ok=True)

    def make_empty_environment(self) -> None:
        """Make the one file that course.py looks for."""
        self.asked.append("venv")
        self.module.PYTHON.parent.mkdir(parents=True)
        self.module.PYTHON.touch()

    def visit(self, tests: bool = False) -> list[str]:
        """Make the environment and the parts once more, and return what had to be fetched for it."""
        self.asked = []
        self.module.make_environment(tests)
        self.module.make_parts()
        return self.asked


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """A copy of course.py in a fresh folder whose name has a space, with a stand-in for everything it would fetch."""
    home = tmp_path / "my course"
    (home / "book").mkdir(parents=True)
    for name in ("course.py", "requirements.txt", "requirements-test.txt", "book/package-lock.json"):
        shutil.copy(ROOT / name, home / name)
    spec = importlib.util.spec_from_file_location("course_copy", home / "course.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    stand_in = Shop(module)
    monkeypatch.setattr(module, "fetch", stand_in.fetch)
    monkeypatch.setattr(module, "make_empty_environment", stand_in.make_empty_environment)
    monkeypatch.setattr(module, "node_works", lambda: True)
    return stand_in


ALL = ["venv", "requirements.txt", "--include=dev"]


def test_linear_algebra_has_one_thread_unless_the_user_says_otherwise(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    assert shop.module.surroundings()["OPENBLAS_NUM_THREADS"] == "1"
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "4")
    assert shop.module.surroundings()["OPENBLAS_NUM_THREADS"] == "4"


def test_what_is_started_keeps_what_python_compiled_of_the_course(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    assert "PYTHONDONTWRITEBYTECODE" not in shop.module.surroundings()


def test_the_environment_is_made_once(shop: Shop) -> None:
    assert shop.visit() == ALL
    assert shop.visit() == []
    assert shop.visit(tests=True) == ["requirements-test.txt"]
    assert shop.visit(tests=True) == []
    assert shop.visit() == []


@pytest.mark.parametrize("pins", ["requirements.txt", "requirements-test.txt", "book/package-lock.json"])
def test_changed_pins_are_noticed(pins: str, shop: Shop) -> None:
    shop.visit(tests=True)
    path = shop.module.ROOT / pins
    path.write_text(path.read_text() + "\n")
    again = {"requirements.txt": [*ALL[:2], "requirements-test.txt"], "requirements-test.txt": ["requirements-test.txt"]}
    assert shop.visit(tests=True) == again.get(pins, ["--include=dev"])


@pytest.mark.parametrize("where", ["requirements.txt", "requirements-test.txt"])
def test_a_half_made_environment_is_made_again(where: str, shop: Shop) -> None:
    shop.fail_at = where
    with pytest.raises(KeyboardInterrupt):
        shop.visit(tests=True)
    leftover = shop.module.VENV / "leftover"
    leftover.touch()
    shop.fail_at = ""
    assert shop.visit(tests=True)[:3] == ["venv", "requirements.txt", "requirements-test.txt"]
    assert not leftover.exists()


def test_half_fetched_parts_are_fetched_again(shop: Shop) -> None:
    shop.fail_at = "--include=dev"
    with pytest.raises(KeyboardInterrupt):
        shop.visit()
    shop.fail_at = ""
    assert shop.visit() == ["--include=dev"]


def test_an_environment_that_is_not_ours_is_left_alone(shop: Shop) -> None:
    (shop.module.VENV / "bin").mkdir(parents=True)
    with pytest.raises(SystemExit, match="was not made by course"):
        shop.visit()
    assert shop.module.VENV.exists()


def test_an_environment_whose_python_is_gone_is_made_again(shop: Shop) -> None:
    shop.visit()
    shop.module.PYTHON.unlink()
    assert shop.visit()[0] == "venv"


@pytest.mark.parametrize("version", [(3, 10, 9), (3, 15, 0)])
def test_a_python_that_does_not_fit_is_told(version: tuple[int, ...], shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shop.module.sys, "version_info", version)
    with pytest.raises(SystemExit, match=rf"this is Python 3.{version[1]}, and the course needs 3.11"):
        shop.module.main(["learn"])


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ("ERROR: Temporary failure in name resolution", "the network or the package index cannot be reached"),
        ("npm error code ENOTFOUND", "the network or the package index cannot be reached"),
        ("ERROR: No space left on device", "could not be installed; the lines above say why"),
    ],
)
def test_a_failed_fetch_says_why(line: str, complaint: str, capsys: pytest.CaptureFixture[str]) -> None:
    spec = importlib.util.spec_from_file_location("course_itself", ROOT / "course.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    with pytest.raises(SystemExit, match=complaint):
        module.fetch("The parts", sys.executable, "-c", f"print({line!r}); raise SystemExit(1)")
    assert ("space" in line) == (line in capsys.readouterr().err)
