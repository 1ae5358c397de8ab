"""The talk's two printed sheets, a page of A4 each: the handout with its questions, and the same with the answers.

Drawn by the model through the face's stand-in, and written by matplotlib's own PDF: a laptop on a club evening needs no other
program.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Callable
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from lessons.face import standin
from lessons.talk import CAUTION, STOPS, Stop, filled, picture_of, stop_named

WIDTH, HEIGHT = 8.27, 11.69  # inches: A4
LEFT, RIGHT, TOP, BOTTOM = 0.07, 0.93, 0.965, 0.035  # of the page
INK, SOFT = "#1B1F24", "#545C66"
_POINT = 1.0 / 72.0 / HEIGHT  # a point, as a share of the page's height
_BROAD, _NARROW = 114, 62  # letters in a line of the page's width, and of half of it

_INTRO = (
    "A coil should answer every pulse of the magneto with one spark: not none, and not two. Each ladder below is a coil at work: "
    "a row is one pulse, a bar its first spark, a triangle a second, a square a third; only the cushion spring or the speed is "
    "changed. All is computed by a model of an invented coil: what carries over to yours is the shape of a thing, not its size."
)
_LADDERS = ("well", "slack", "slack_slow", "stiff")
_RACES = ("race", "no_condenser")
_NOTES = {
    "well": "Well set, {rpm:.0f} rpm", "slack": "Too slack, {rpm:.0f} rpm", "slack_slow": "The same, {rpm:.0f} rpm",
    "stiff": "Too stiff, {rpm:.0f} rpm", "race": "With the condenser", "no_condenser": "Without it",
}


def questions() -> list[Stop]:
    """Return the stops whose question stands on the handout: those that have an answer."""
    return [stop for stop in STOPS if stop.answer]


def _words(page: Figure, x: float, y: float, text: str, letters: int, size: float = 8.5, **look: Any) -> float:
    """Write `text` from (x, y) down, in lines of at most so many letters; return the height under it."""
    lines = textwrap.wrap(text, letters)
    page.text(x, y, "\n".join(lines), fontsize=size, va="top", linespacing=1.3, **{"color": INK, **look})
    return y - len(lines) * 1.35 * size * _POINT


def _ladder(axes: Axes, key: str) -> None:
    ladder = picture_of(key).ladder
    if ladder is None:
        raise ValueError(f"The stop {key} has no ladder to print.")
    standin.draw_ladder(axes, ladder)
    _without_legend(axes)  # the words above say what the marks are
    axes.set_ylabel("pulse" if key == _LADDERS[0] else "", fontsize=7)
    axes.set_xlabel("degrees of crank", fontsize=7)


def _race(axes: Axes, key: str) -> None:
    standin.draw_chart(axes, next(chart for chart in picture_of(key).charts if chart.key == "race"))
    axes.set_xlabel("µs since the points parted", fontsize=7)
    axes.set_ylabel("volts at the points" if key == _RACES[0] else "", fontsize=7)
    if key != _RACES[0]:
        _without_legend(axes)


def _without_legend(axes: Axes) -> None:
    legend = axes.get_legend()
    if legend:
        legend.remove()


def _figures(page: Figure, top: float) -> float:
    """Draw the four ladders in a row and the two races under them; return the height under both."""
    from lessons.panels import PANELS

    def row(keys: tuple[str, ...], foot: float, high: float, draw: Callable[[Axes, str], None]) -> None:
        gap = 0.035 if len(keys) > 2 else 0.06
        wide = (RIGHT - LEFT - 0.02 - gap * (len(keys) - 1)) / len(keys)
        for place, key in enumerate(keys):
            axes = page.add_axes((LEFT + 0.02 + place * (wide + gap), foot, wide, high))
            draw(axes, key)
            stop = stop_named(key)
            values = {**PANELS[stop.panel].defaults(), **stop.values}
            axes.set_title(_NOTES[key].format(**values), loc="left", fontsize=8, fontweight="bold")
            axes.tick_params(labelsize=6.5)

    row(_LADDERS, top - 0.115, 0.1, _ladder)
    row(_RACES, top - 0.265, 0.095, _race)
    return top - 0.302


def sheet(with_answers: bool) -> Figure:
    """Return the handout's page, with lines to write on, or the answer sheet's."""
    page = Figure(figsize=(WIDTH, HEIGHT), facecolor="white")
    FigureCanvasAgg(page)
    title = "One pulse, one spark: the answers" if with_answers else "One pulse, one spark: what goes on in a vibrating coil"
    page.text(LEFT, TOP, title, fontsize=14, fontweight="bold", va="top", color=INK)
    foot = _words(page, LEFT, TOP - 0.026, _INTRO, _BROAD)
    foot = _figures(page, foot - 0.018)
    caution_top = BOTTOM + 4 * 1.35 * 7.5 * _POINT
    asked = questions()
    head = "What the model says, at the settings of the talk" if with_answers else "Predict first; write down why"
    page.text(LEFT, foot, head, fontsize=10, fontweight="bold", va="top", color=INK)
    foot -= 0.02
    each = (foot - caution_top) / len(asked)
    middle = 0.5
    for number, stop in enumerate(asked, 1):
        y = foot - (number - 1) * each
        _words(page, LEFT, y, f"{number}. {filled(stop, stop.ask)}", _NARROW, 7.5)
        if with_answers:
            _words(page, middle + 0.01, y, filled(stop, stop.answer), _NARROW, 7.5)
        else:
            for line in (0.4, 0.8):
                page.add_artist(mpl.lines.Line2D([middle + 0.01, RIGHT], [y - line * each] * 2, color=SOFT, linewidth=0.5))
    _words(page, LEFT, caution_top - 0.004, f"Before you touch a real coil. {CAUTION}", _BROAD, 7.5, fontweight="bold")
    return page


def _pdf(page: Figure, title: str) -> bytes:
    buffer = io.BytesIO()
    with mpl.rc_context({"pdf.fonttype": 42}):  # letters that can be searched and read aloud
        page.savefig(buffer, format="pdf", metadata={"Title": title, "Creator": None, "Producer": None, "CreationDate": None})
    return buffer.getvalue()


def handout() -> bytes:
    """Return the handout as PDF, the same bytes for the same model."""
    return _pdf(sheet(False), "Handout: one pulse, one spark")


def answers() -> bytes:
    """Return the answer sheet as PDF."""
    return _pdf(sheet(True), "Answers: one pulse, one spark")
