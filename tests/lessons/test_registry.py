"""Panels and exercises are found by themselves, each module imported when it is wanted; two of one name are refused."""

from __future__ import annotations

import os
import py_compile
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from lessons.exercises import EXERCISES
from lessons.panels import PANELS
from lessons.registry import Registry

FILES = {"apple.py": "THINGS = ('apple', 'pip')\n", "pear.py": "THINGS = ('pear',)\n", "tools.py": "SPADE = 1\n",
         "roots.py": "THINGS = ('beet' + 'root',)\n", "pots/__init__.py": "from shed.pots import clay\nTHINGS = (clay.NAME,)\n",
         "pots/clay.py": 'NAME = "jar"\n'}


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    folder = tmp_path / "shed"
    (folder / "pots").mkdir(parents=True)
    for name, text in FILES.items() | {("__init__.py", "")}:
        (folder / name).write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    yield folder
    for name in [name for name in sys.modules if name.split(".")[0] == "shed"]:
        del sys.modules[name]


def registry(folder: Path) -> Registry[str]:
    return Registry("shed", [str(folder)], "THINGS", str)


def imported() -> set[str]:
    return {name for name in sys.modules if name.startswith("shed.")}


@pytest.mark.parametrize(("key", "needed"), [
    ("pear", {"shed.pear"}), ("pip", {"shed.apple"}), ("jar", {"shed.pots", "shed.pots.clay"}),
])
@pytest.mark.parametrize("compiled", [False, True])
def test_only_the_module_that_has_it_is_imported(shed: Path, key: str, needed: set[str], compiled: bool) -> None:
    if compiled:  # as the book's pages have it
        for text in list(shed.rglob("*.py")):
            py_compile.compile(str(text), str(text.with_suffix(".pyc")))
            text.unlink()
    assert registry(shed)[key] == key
    assert imported() == needed


def test_what_was_found_is_not_looked_for_again(shed: Path) -> None:
    """A slider in motion asks for its panel thirty times a second."""
    things = registry(shed)
    things["pear"]
    for text in shed.rglob("*.py"):
        text.unlink()
    assert things["pear"] == "pear"


def test_a_key_that_stands_in_no_file_is_found_all_the_same(shed: Path) -> None:
    assert registry(shed)["beetroot"] == "beetroot"


def test_all_are_there_in_order_and_one_that_is_not_is_a_key_error(shed: Path) -> None:
    things = registry(shed)
    assert list(things) == ["apple", "pip", "pear", "jar", "beetroot"]
    assert (len(things), "pip" in things, "plum" in things) == (5, True, False)
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


@pytest.mark.parametrize("asked", [
    "{'do': 'panel', 'name': 'cushion', 'values': {}}", "{'do': 'panel', 'name': 'bridge_views', 'values': {}}",
    "{'do': 'panel', 'name': 'ear', 'values': {}}", "{'do': 'panel', 'name': 'bench_task', 'values': {}}",
    "{'do': 'exercise', 'key': '05-preload-and-current'}",
])
def test_a_page_of_another_lesson_does_not_wait_for_lesson_10(asked: str) -> None:
    code = (f"import sys; from lessons.engine import Engine; reply = Engine().handle({asked}).tree\n"
            "assert 'error' not in reply, reply['error']\n"
            "far = {'lessons.panels.bench', 'lessons.exercises.bench', 'coilbench.sheet', 'concurrent.futures'}\n"
            "print(*far & set(sys.modules))")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          env=os.environ | {"COILMODEL_LIGHT": "1"})
    assert done.stdout.strip() == ""
