"""How long a lesson takes, from its words, panels and exercises: `python -m lessons.minutes` prints all, `--write` states them.

The rates are our own estimate and no measurement: nobody has been timed. What is folded away and the exercises of the second
track are counted by themselves, since an owner may leave them out. `tests/lessons/test_minutes.py` holds the notebooks to this.
"""

from __future__ import annotations

import argparse
import json
import re
from dataclasses import dataclass
from pathlib import Path

from lessons.contents import LESSONS, Lesson
from lessons.exercises import EXERCISES

WORDS_A_MINUTE = 180.0
A_PANEL = 2.0
AN_EXERCISE = {"choice": 1.5, "number": 4.0, "ordering": 2.0, "sliders": 5.0, "log": 8.0, "function": 12.0}
"""Minutes for trying a panel, and for an exercise of each kind with its reply."""
STEP = 5
"""Minutes are stated in steps of so many."""
STATED = re.compile(r"^\*[^*]*?minutes[^.*,]*(?:, and \d+ minutes[^.*,]*)?([.,])")
_FOLD = re.compile(r"<details.*?</details>", re.DOTALL)
FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class Minutes:
    """Minutes of a lesson: what is asked of everyone, and the second track (folded text, arithmetic, code)."""

    everyone: float
    second: float


def _words(text: str) -> int:
    return len(re.findall(r"[^\W\d_]{2,}", re.sub(r"<[^>]*>|\$[^$]*\$", " ", text)))


def estimate(lesson: Lesson) -> Minutes:
    """Return the minutes of a lesson, from its notebook and its exercises."""
    cells = json.loads((FOLDER / lesson.file).read_text(encoding="utf-8"))["cells"]
    text = "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
    code = "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
    said = " ".join(words for words in re.findall(r'"((?:[^"\\]|\\.)*)"', code) if words.count(" ") > 3)
    folded = " ".join(_FOLD.findall(text))
    own = [exercise for exercise in EXERCISES.values() if exercise.lesson == lesson.number]
    minutes = {track: sum(AN_EXERCISE[one.kind] for one in own if (one.track == "bench") == track) for track in (True, False)}
    panels = A_PANEL * len(re.findall(r"(?<!\w)panel\(", code))
    return Minutes((_words(_FOLD.sub(" ", text)) + _words(said)) / WORDS_A_MINUTE + panels + minutes[True],
                   _words(folded) / WORDS_A_MINUTE + minutes[False])


def rounded(minutes: float) -> int:
    """Return minutes to the nearest step."""
    return STEP * round(minutes / STEP)


def sentence(minutes: Minutes) -> str:
    """Return the beginning of a lesson's line on its length, without the stop at its end."""
    more = f", and {rounded(minutes.second)} minutes more for the second track" if rounded(minutes.second) else ""
    return f"*About {rounded(minutes.everyone)} minutes by our estimate{more}"


def stated(lesson: Lesson) -> Minutes:
    """Return the minutes that a notebook states."""
    text = (FOLDER / lesson.file).read_text(encoding="utf-8")
    line = next(line for line in "".join("".join(cell["source"]) for cell in json.loads(text)["cells"]).splitlines()
                if STATED.match(line))
    everyone, *second = (float(number) for number in re.findall(r"(\d+) minutes", line))
    return Minutes(everyone, sum(second))


def write(lesson: Lesson) -> None:
    """Put the estimate into the line of the notebook that states it."""
    path = FOLDER / lesson.file
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    place = next(n for n, line in enumerate(lines) if STATED.match(line.strip().lstrip('"')))
    indent, _, rest = lines[place].partition('"')
    lines[place] = f'{indent}"{STATED.sub(lambda found: sentence(estimate(lesson)) + found[1], rest, count=1)}'
    path.write_text("".join(lines), encoding="utf-8")


def main() -> int:
    """Print or write the estimates; returns 0."""
    options = argparse.ArgumentParser(description="How long each lesson takes, by our estimate.")
    options.add_argument("--write", action="store_true", help="state the minutes in the notebooks")
    write_them = options.parse_args().write
    for lesson in LESSONS:
        minutes = estimate(lesson)
        print(f"{lesson.number:2} {lesson.title:26} {minutes.everyone:5.1f} min, second track {minutes.second:5.1f} min")
        if write_them:
            write(lesson)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
