"""What a lesson's code cells use: `panel`, `exercise`, `progress`, and `say` for sentences whose numbers the model computes.

>>> from lessons.cells import at, exercise, panel, say
>>> say("A well-set coil parts at {good.opening_current.mean:.1f} A.", good=at(450))      # doctest: +SKIP
"""

from __future__ import annotations

from typing import Any

from IPython.display import Markdown

from coilmodel import Drive, Machine, MagnetoDrive, simulate
from coilmodel.readings import Readings, in_words, read
from lessons import contents, glossary, surroundings
from lessons.face.widget import exercise, panel, progress, sheet

__all__ = ["at", "exercise", "in_words", "on", "onward", "page", "panel", "progress", "say", "sheet", "trade_words"]


def say(text: str, **numbers: Any) -> Markdown:
    """Return `text` as Markdown with its {fields} filled from `numbers`, so that no number in a lesson is typed by hand.

    Raises KeyError or AttributeError if a field is not there: a lesson with a hole in it must not build.
    """
    return Markdown(text.format(**numbers))


def at(rpm: float, drive: float = 1.0, pulses: int = 40, **factors: float) -> Readings:
    """Return the readings of the nominal coil on the magneto, its numbers multiplied by `factors`.

    rpm: crank speed; drive: share of rated strength; pulses: how many are measured; factors: as for Machine.scaled,
    `cushion_preload=0.3` for a cushion at three tenths of its right preload.
    """
    return read(simulate(Machine().scaled(**factors), MagnetoDrive(float(rpm), drive), pulses=pulses))


def on(drive: Drive, pulses: int = 40, **factors: float) -> Readings:
    """Return the readings of the nominal coil on another `drive`, its numbers multiplied by `factors`, over `pulses`."""
    return read(simulate(Machine().scaled(**factors), drive, pulses=pulses))


def onward(lesson: int) -> Markdown:
    """Return where to go from `lesson`: to the next one and, outside the book with its side bar, to any. ValueError as there."""
    return Markdown(contents.onward(lesson, with_all=not surroundings.for_the_book()))


def page(name: str, title: str) -> str:
    """Return Markdown for a page of the book, for a field of `say`: a link within the book, elsewhere where the page is.

    name: of the page's file in book/pages, without its ending; title: as it stands over the page.
    """
    if surroundings.for_the_book():
        return f"[{title}](../{name}.md)"
    return f"*{title}* (in the book, which `python3 course.py book` makes: `book/_build/html/{name}.html`)"


def trade_words(lesson: int) -> Markdown | None:
    """Return the words of the trade that `lesson` uses, folded away; in the book, which explains each where it stands, nothing.

    ValueError if there is no such lesson.
    """
    if surroundings.for_the_book():
        return None
    used = glossary.words_of(lesson)
    lines = "\n".join(f"- **{term.named}**: {term.sentence}" for term in used)
    summary = f"<summary>Words of the trade in this lesson ({len(used)})</summary>"
    return Markdown(f'<details class="fold">\n{summary}\n\n{lines}\n\n</details>')
