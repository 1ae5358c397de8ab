"""The lessons in their order: the one list of their titles and files, for the progress page and the links from lesson to lesson.

Plain data, since the reader's browser has no notebooks to look into. `tests/lessons/test_contents.py` holds it to the notebooks.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Lesson:
    """One lesson: its `number`, its `title`, and the `file` of its notebook, in the folder of the lessons."""

    number: int
    title: str
    file: str


LESSONS = (
    Lesson(0, "What is in the box", "00_what_is_in_the_box.ipynb"),
    Lesson(1, "Magneto current", "01_magneto_current.ipynb"),
    Lesson(2, "The coil", "02_the_coil.ipynb"),
    Lesson(3, "Condenser function", "03_condenser.ipynb"),
    Lesson(4, "The vibrator", "04_vibrator.ipynb"),
    Lesson(5, "Cushion-spring behaviour", "05_cushion_spring.ipynb"),
    Lesson(6, "Multi-firing", "06_multi_firing.ipynb"),
    Lesson(7, "What a meter tells", "07_meters.ipynb"),
    Lesson(8, "In the car", "08_in_the_car.ipynb"),
    Lesson(9, "Setting up a coil", "09_setting_up.ipynb"),
    Lesson(10, "The bench", "10_the_bench.ipynb"),
)


def title(number: int) -> str:
    """Return the title of lesson `number`; "Lesson 11" for one that is not in the list, so that a new one breaks no page."""
    return next((lesson.title for lesson in LESSONS if lesson.number == number), f"Lesson {number}")


def onward(number: int, with_all: bool = True) -> str:
    """Return Markdown that leads on from lesson `number`: to the next one and, `with_all`, to any, folded away.

    Raises ValueError naming the lessons there are.
    """
    numbers = [lesson.number for lesson in LESSONS]
    if number not in numbers:
        raise ValueError(f"There is no lesson {number!r}; there are {numbers[0]} to {numbers[-1]}.")
    after = LESSONS[numbers.index(number) + 1 :]
    lead = f"**Next:** {_link(after[0])}" if after else "**That was the last lesson.** Any of them can be taken again."
    if not with_all:
        return lead
    lessons = "\n".join(f"- {_words(one) + ' (this one)' if one.number == number else _link(one)}" for one in LESSONS)
    return f'{lead}\n\n<details class="fold">\n<summary>All the lessons</summary>\n\n{lessons}\n\n</details>'


def _words(lesson: Lesson) -> str:
    return f"{lesson.number} \u00b7 {lesson.title}"


def _link(lesson: Lesson) -> str:
    return f"[{_words(lesson)}]({lesson.file})"
