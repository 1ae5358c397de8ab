"""The list of the lessons is that of the notebooks, and every notebook leads on to the next and to all the others."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from lessons import cells, contents, surroundings
from lessons.contents import LESSONS
from lessons.exercises import EXERCISES

FOLDER = Path(contents.__file__).parent
ROOT = FOLDER.parent
NOTEBOOKS = sorted(FOLDER.glob("[0-9]*.ipynb"))


def sources(path: Path) -> list[str]:
    return ["".join(cell["source"]) for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]]


def test_every_notebook_is_in_the_list_under_its_own_number_and_title() -> None:
    headings = [re.match(r"# (\d+) \u00b7 (.+)", sources(path)[0]) for path in NOTEBOOKS]
    assert all(headings)
    found = [(int(heading[1]), heading[2], path.name) for heading, path in zip(headings, NOTEBOOKS, strict=True) if heading]
    assert found == [(lesson.number, lesson.title, lesson.file) for lesson in LESSONS]


def test_every_lesson_with_an_exercise_has_a_title() -> None:
    assert {exercise.lesson for exercise in EXERCISES.values()} <= {lesson.number for lesson in LESSONS}


def test_a_lesson_that_is_not_listed_yet_breaks_nothing() -> None:
    assert contents.title(5) == LESSONS[5].title
    assert contents.title(77) == "Lesson 77"


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.file)
def test_every_notebook_leads_on(lesson: contents.Lesson) -> None:
    assert sources(FOLDER / lesson.file)[-1] == f"onward({lesson.number})"
    text = contents.onward(lesson.number)
    lead, rest = text.split("\n\n", 1)
    following = [one for one in LESSONS if one.number == lesson.number + 1]
    assert re.findall(r"\]\(([^)]+)\)", lead) == [one.file for one in following]
    assert re.findall(r"\]\(([^)]+)\)", rest) == [one.file for one in LESSONS if one != lesson]
    assert all(f"{one.number} \u00b7 {one.title}" in rest for one in LESSONS)
    assert contents.onward(lesson.number, with_all=False) == lead


@pytest.mark.parametrize("number", [-1, 11, None])
def test_there_is_no_way_on_from_no_lesson(number: int) -> None:
    with pytest.raises(ValueError, match="there are 0 to 10"):
        contents.onward(number)


def test_a_page_of_the_book_is_a_link_there_and_a_place_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(surroundings.SESSION, "a notebook")
    monkeypatch.delenv(surroundings.BOOK, raising=False)
    assert surroundings.in_jupyterlab()
    assert not surroundings.for_the_book()
    assert "](" not in cells.page("bench_sheet", "The bench sheet")
    assert "book/_build/html/bench_sheet.html" in cells.page("bench_sheet", "The bench sheet")
    assert "<details" in cells.onward(3).data
    monkeypatch.setenv(surroundings.BOOK, "1")  # a build that somebody started from within a notebook
    assert not surroundings.in_jupyterlab()
    assert cells.page("bench_sheet", "The bench sheet") == "[The bench sheet](../bench_sheet.md)"
    assert "<details" not in cells.onward(3).data


def test_pages_that_lessons_name_are_there() -> None:
    named = [name for path in NOTEBOOKS for source in sources(path) for name in re.findall(r'\bpage\("(\w+)"', source)]
    assert named
    assert all((ROOT / "book" / "pages" / f"{name}.md").is_file() for name in named)


def test_no_notebook_links_beyond_its_folder_by_hand() -> None:
    """JupyterLab is served from the folder of the lessons: such a link leads nowhere there. `page` says where the page is."""
    assert [path.name for path in NOTEBOOKS for source in sources(path) if "](.." in source] == []

