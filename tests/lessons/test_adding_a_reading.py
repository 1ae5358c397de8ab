"""A reading is one entry in the registry: two invented ones are planted there and walked through every face that shows readings.

In a process of their own (planted_reading.py), since a registry is read once.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from coilbench.kinds import KINDS
from lessons.panels.drawings.at_home import DRAWINGS

SCRIPT = Path(__file__).with_name("planted_reading.py")
FACES = [node.name for node in ast.parse(SCRIPT.read_text(encoding="utf-8")).body
         if isinstance(node, ast.FunctionDef) and node.name.startswith(("in_", "by_", "on_", "predicted", "judged", "asked"))]


@cache
def walked(*forgotten: str) -> dict[str, str]:
    done = subprocess.run([sys.executable, str(SCRIPT), *forgotten], capture_output=True, text=True, check=False,
                          cwd=SCRIPT.parents[2], env={"PYTHONPATH": str(SCRIPT.parents[2]), "PATH": "/usr/bin:/bin"})
    assert done.returncode == 0, done.stderr
    found: dict[str, str] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("face", FACES)
def test_a_planted_reading_stands(face: str) -> None:
    assert walked()[face] == "", f"{face.replace('_', ' ')}: {walked()[face]}"


@pytest.mark.slow  # it asks the same process as those above
def test_every_face_was_walked() -> None:
    assert sorted(walked()) == sorted(FACES)


def test_what_its_entry_leaves_out_is_missed_by_name() -> None:
    said = walked("remark", "sliders", "benches", "drawing")
    assert said["in_the_empty_sheet"] == "the empty sheet has no row for 'pull on both springs' (Kind.remark)"
    assert said["on_the_pages_bench"] == "lesson 10's bench has no slider for 'pull on both springs' (Kind.sliders)"
    assert said["asked_for_as_the_next_step"].startswith("nobody ever asks for 'half_meter'")
    assert said["on_the_page_of_readings_at_home"] == "the page of readings at home has no drawing of it (Kind.drawing)"
    assert said["on_the_terminals_card"] == ""


@pytest.mark.parametrize(("key", "without", "lacks"), [
    ("travel", {"shows": ()}, "a prediction"), ("sparks", {"columns": ()}, "a prediction"), ("travel", {"asked": ""}, "asked"),
    ("travel", {"minutes": 0.0}, "minutes"), ("sparks", {"needs": ""}, "needs"), ("gap", {"unit": "N"}, "a unit of voltage"),
    ("travel", {"how": ""}, "how it is taken"), ("sparks", {"one_fault": True}, "at rest")])
def test_an_entry_that_lacks_something_is_refused_by_name(key: str, without: dict[str, object], lacks: str) -> None:
    kind = next(kind for kind in KINDS if kind.key == key)
    with pytest.raises(ValueError, match=f"kinds: the reading '{key}' lacks .*{lacks}"):
        replace(kind, **without)  # type: ignore[arg-type]


def test_keys_names_and_columns_are_of_one_reading_each() -> None:
    for own in ([kind.key for kind in KINDS], [name.casefold() for kind in KINDS for name in (kind.name, *kind.also)],
                [name for kind in KINDS for name, _ in kind.columns], [one.key for kind in KINDS for one in kind.sliders]):
        assert len(set(own)) >= len(own) - (1 if "sparks" in own else 0), own  # a title may be said twice of one reading
    assert {kind.drawing for kind in KINDS if kind.drawing} <= set(DRAWINGS)
