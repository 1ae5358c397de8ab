"""A kind of exercise touches several places (DEVELOPERS.md, "Add a kind of exercise"): the one that was forgotten is named.

Shown on a kind that is planted: every place names itself in a sentence.
"""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from lessons import engine, exercises, minutes
from lessons.contracts import Exercise
from lessons.exercises import EXERCISES, ways

from . import test_exercises, test_exercises_by_luck

ROOT = Path(__file__).parents[2]
RECIPE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Add a kind of exercise")[2].partition("\n## ")[0]


def forgotten(kind: str) -> list[str]:
    """Return a sentence for each place that does not know this kind of exercise."""
    face = (ROOT / "lessons/face/exercise.js").read_text(encoding="utf-8").partition("const FORMS = {")[2].partition("\n};")[0]
    builders = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "lessons/exercises").glob("*.py"))
    places = {
        "lessons/exercises: no builder (a function `{kind}_exercise`) makes one": f"def {kind}_exercise(" in builders,
        "lessons/exercises/__init__.py: the recipe for an exercise does not name it": kind in (exercises.__doc__ or ""),
        "lessons/contracts.py: the docstring of `Exercise` does not name it": re.search(rf"\b{kind}\b", Exercise.__doc__ or ""),
        "lessons/engine.py: the table of forms and answers has no line of it": re.search(rf"(?m)^    {kind} +\{{",
                                                                                         engine.__doc__ or ""),
        "lessons/face/exercise.js: FORMS has nothing to answer it with": re.search(rf"(?m)^  {kind}: \(", face),
        "lessons/exercises/ways.py: WORDS does not say how its answer is said": kind in ways.WORDS,
        "lessons/minutes.py: AN_EXERCISE does not say how long it takes": kind in minutes.AN_EXERCISE,
        "tests/lessons/test_exercises.py: SLIPS has no wrong answers for it": kind in test_exercises.SLIPS,
        "tests/lessons/test_exercises.py: LEAKS does not say what gives its answer away": kind in test_exercises.LEAKS,
        "tests/lessons/test_exercises.py: TOLD has no text that gives its answer away": kind in test_exercises.TOLD,
        "tests/lessons/test_exercises_by_luck.py: LUCK does not say what passes by luck": kind in test_exercises_by_luck.LUCK,
        "tests/lessons/test_exercises_by_luck.py: no test tries what needs no thought": kind in test_exercises_by_luck.TRIED,
    }
    return [f"The kind of exercise {kind!r} was forgotten in {place.format(kind=kind)}." for place, known in places.items()
            if not known]


@pytest.mark.parametrize("kind", sorted({exercise.kind for exercise in EXERCISES.values()}))
def test_every_place_knows_every_kind(kind: str) -> None:
    assert not forgotten(kind), "\n".join(forgotten(kind))


def test_a_kind_that_is_planted_is_missed_in_every_place() -> None:
    told = forgotten("sketch")
    assert len(told) == 12
    assert all(sentence.endswith(".") and "'sketch'" in sentence for sentence in told)
    for sentence in told:  # and the recipe names each of these files
        file = re.search(r"in ([\w/]+(?:\.\w+)?)", sentence).group(1)
        assert Path(file).name in RECIPE, f"DEVELOPERS.md, Add a kind of exercise, does not name {file}."


def test_an_exercise_of_a_planted_kind_is_held_to_the_rules_and_fails_them() -> None:
    """It is not left out of the tests for want of a name in a list: they reach it, and stop at the place that is missing."""
    planted = dataclasses.replace(next(iter(EXERCISES.values())), kind="sketch")
    variant = planted.variant(1)
    for work in (lambda: test_exercises.wrong_answers(planted, variant), lambda: test_exercises.leaks("", planted, variant),
                 lambda: ways.in_words(planted, variant, None)):
        with pytest.raises(KeyError, match="sketch"):
            work()
    assert test_exercises.ALL.args[1] == list(EXERCISES.values()) or len(test_exercises.ALL.args[1]) == len(EXERCISES)
