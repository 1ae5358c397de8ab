"""The minutes that each lesson states are those of its words and exercises, within a step."""

from __future__ import annotations

from pathlib import Path

import pytest

from lessons import minutes
from lessons.contents import LESSONS
from lessons.exercises import EXERCISES

ROOT = Path(__file__).resolve().parents[2]
EACH = pytest.mark.parametrize("lesson", LESSONS, ids=[str(lesson.number) for lesson in LESSONS])


@EACH
def test_a_lesson_states_its_minutes(lesson) -> None:
    """`python -m lessons.minutes --write` states them anew."""
    found, stated = minutes.estimate(lesson), minutes.stated(lesson)
    assert abs(stated.everyone - found.everyone) <= 1.5 * minutes.STEP
    assert abs(stated.second - found.second) <= 1.5 * minutes.STEP


def test_the_start_page_states_the_lessons_minutes() -> None:
    text = (ROOT / "book" / "pages" / "index.md").read_text(encoding="utf-8")
    stated = [minutes.stated(lesson) for lesson in LESSONS]
    assert f"It takes {stated[0].everyone:g} minutes." in text
    least, most = min(one.everyone for one in stated), max(one.everyone for one in stated)
    whole = max(one.everyone + one.second for one in stated)
    assert f"takes {least:g} to {most:g} minutes, with its arithmetic up to {whole:g}:" in text


def test_every_kind_of_exercise_has_its_minutes() -> None:
    assert {exercise.kind for exercise in EXERCISES.values()} <= set(minutes.AN_EXERCISE)


@EACH
def test_an_owner_passes_a_lesson_without_arithmetic(lesson) -> None:
    """What is asked of everyone is no number to work out but a count, and there is enough of it."""
    asked = [one for one in EXERCISES.values() if one.lesson == lesson.number and one.track == "bench"]
    assert len(asked) >= 3
    assert all(one.kind not in ("number", "function") or one.form({}).get("unit") == "1" for one in asked)
