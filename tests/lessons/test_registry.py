"""Panels and exercises are found by themselves, each module imported when it is wanted; two of one name are refused."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from lessons.exercises import EXERCISES
from lessons.panels import PANELS
from lessons.registry import Registry

FILES = {"apple.py": "THINGS = ('apple', 'pip')\n", "pear.py": "THINGS = ('pear',)\n", "tools.py": "SPADE = 1\n"}


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    folder = tmp_path / "shed"
    folder.mkdir()
    for name, text in FILES.items() | {("__init__.py", "")}:
        (folder / name).write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    yield folder
    for name in [name for name in sys.modules if name.split(".")[0] == "shed"]:
        del sys.modules[name]


def registry(folder: Path) -> Registry[str]:
    return Registry("shed", [str(folder)], "THINGS", str, first=str.startswith)


def test_only_the_module_that_has_it_is_imported(shed: Path) -> None:
    assert registry(shed)["pear"] == "pear"
    assert "shed.pear" in sys.modules
    assert "shed.apple" not in sys.modules
    assert registry(shed)["pip"] == "pip"  # the guess helps nothing here


def test_all_are_there_in_order_and_one_that_is_not_is_a_key_error(shed: Path) -> None:
    things = registry(shed)
    assert (list(things), len(things), "pip" in things, "plum" in things) == (["apple", "pip", "pear"], 3, True, False)
    with pytest.raises(KeyError):
        things["plum"]


@pytest.mark.parametrize("text", ["THINGS = ('apple',)\n", "THINGS = ('pear', 'pear')\n"])
def test_two_of_one_name_are_refused(shed: Path, text: str) -> None:
    (shed / "pear.py").write_text(text)
    with pytest.raises(ValueError, match="two things have"):
        list(registry(shed))


def test_the_course_has_no_two_of_one_name() -> None:
    assert len(list(PANELS)) == len(set(PANELS)) > 30
    assert len(list(EXERCISES)) == len(set(EXERCISES)) > 60
    assert all(PANELS[name].name == name for name in PANELS)
    assert all(EXERCISES[key].key == key for key in EXERCISES)


@pytest.mark.parametrize(("asked", "without"), [
    ("{'do': 'panel', 'name': 'cushion', 'values': {}}", "lessons.panels.bench"),
    ("{'do': 'exercise', 'key': '05-preload-and-current'}", "lessons.exercises.bench"),
])
def test_a_page_of_lesson_5_does_not_wait_for_lesson_10(asked: str, without: str) -> None:
    code = (f"import sys; from lessons.engine import Engine; reply = Engine().handle({asked}).tree\n"
            f"assert 'error' not in reply, reply['error']; print({without!r} in sys.modules)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
