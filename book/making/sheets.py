"""The talk's two printed sheets, a page of A4 each: the handout with its questions, which spoils none of them, and the answers.

Drawn by the model through the face's stand-in, and written by matplotlib's own PDF: a laptop on a club evening needs no other
program. Questions and answers carry the numbers of their stops.
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
from lessons.panels import PANELS
from lessons.talk import CAUTION, CLOSING, SHORT, STOPS, Stop, filled, stop_named

WIDTH, HEIGHT = 8.27, 11.69  # inches: A4
LEFT, RIGHT, TOP, BOTTOM = 0.07, 0.93, 0.965, 0.035  # of the page
MIDDLE = 0.5  # of the page: where the writing lines, and the answers, begin
INK, SOFT = "#1B1F24", "#545C66"
_POINT = 1.0 / 72.0 / HEIGHT  # a point, as a share of the page's height
_BROAD, _NARROW = 106, 60  # letters in a line of the page's width, and of half of it
_SMALL = 7.5  # points

_HANDOUT = (
    "A coil should answer every pulse of the magneto with one spark, and a strong one. The coil of this evening does so on "
    "Thursday, on the bench, and misses on Sunday, on the road. Write down what you think before you see it: a guess that was "
    "wrong is kept better than an answer that was given."
)
_ANSWERS = (
    "Each ladder is a coil at work: a row is one pulse, a bar its first spark, a triangle a second, a square a third, and what "
    "is small and hollow is too weak to light the charge. Only the cushion spring or the speed is changed. All is computed by a "
    "model of an invented coil: what carries over to yours is the shape of a thing, not its size."
)
Draw = Callable[[Axes, Stop, int, bool], None]
_LADDERS = (("well", 1), ("slack", 2), ("slack_slow", 1), ("stiff", 1))  # stop and step
_RACES = (("race", 1), ("no_condenser", 1))
_NOTES = {
    "well": "well set, {rpm:.0f} rpm", "slack": "too slack, {rpm:.0f} rpm", "slack_slow": "the same, {rpm:.0f} rpm",
    "stiff": "too stiff, {rpm:.0f} rpm", "race": "with the condenser", "no_condenser": "without it",
}


def number_of(stop: Stop) -> int:
    """Return the number of a stop, as it stands on the screen."""
    return STOPS.index(stop) + 1


def _words(page: Figure, x: float, y: float, text: str, letters: int, size: float = 8.5, **look: Any) -> float:
    """Write `text` from (x, y) down, in lines of at most so many letters; return the height under it."""
    lines = textwrap.wrap(text, letters)
    page.text(x, y, "\n".join(lines), fontsize=size, va="top", linespacing=1.3, **{"color": INK, **look})
    return y - len(lines) * 1.35 * size * _POINT


def _contact_set(page: Figure, top: float, high: float) -> None:
    """Draw the contact set at rest, from the side, its parts named; the only numbers on the sheet are those of the stops."""
    drawing = PANELS["bridge_views"].picture({}).drawing
    if drawing is None:
        raise ValueError("The panel bridge_views has no drawing to print.")
    axes = page.add_axes((LEFT, top - high, RIGHT - LEFT, high))
    standin.draw_drawing(axes, drawing)
    side = 246.0  # units of the drawing: below this begins the view from above
    axes.set_ylim(side, 0.0)
    for text in list(axes.texts):
        if text.get_text().isdigit():  # a part's number: its name instead
            text.set_text(drawing.parts[int(text.get_text()) - 1].word)
            text.set_bbox({"boxstyle": "round,pad=0.2", "facecolor": "white", "edgecolor": "none"})
        else:
            text.remove()
    axes.set_title("", loc="left")
    named: dict[str, Any] = {"fontsize": 8.5, "fontweight": "bold", "va": "top", "color": INK, "linespacing": 1.3}
    page.text(LEFT, top, "The contact set\nat rest, from the side", **named)


def _ladder(axes: Axes, stop: Stop, step: int, first: bool) -> None:
    ladder = stop.picture(step).ladder
    if ladder is None:
        raise ValueError(f"The stop {stop.key} has no ladder to print.")
    standin.draw_ladder(axes, ladder)
    _without_legend(axes)  # the words above say what the marks are
    axes.set_ylabel("pulse" if first else "", fontsize=7)
    axes.set_xlabel("degrees of crank", fontsize=7)


def _race(axes: Axes, stop: Stop, step: int, first: bool) -> None:
    standin.draw_chart(axes, next(chart for chart in stop.picture(step).charts if chart.key == "race"))
    axes.set_xlabel("µs since the points parted", fontsize=7)
    axes.set_ylabel("volts at the points" if first else "", fontsize=7)
    if not first:
        _without_legend(axes)


def _without_legend(axes: Axes) -> None:
    legend = axes.get_legend()
    if legend:
        legend.remove()


def _figures(page: Figure, top: float) -> float:
    """Draw the four ladders in a row and the two races under them; return the height under both."""
    def row(places: tuple[tuple[str, int], ...], foot: float, high: float, draw: Draw) -> None:
        gap = 0.035 if len(places) > 2 else 0.06
        wide = (RIGHT - LEFT - 0.02 - gap * (len(places) - 1)) / len(places)
        for place, (key, step) in enumerate(places):
            axes, stop = page.add_axes((LEFT + 0.02 + place * (wide + gap), foot, wide, high)), stop_named(key)
            draw(axes, stop, step, place == 0)
            values = {**PANELS[stop.panel].defaults(), **stop.values_at(step)}
            axes.set_title(f"{number_of(stop)}: {_NOTES[key].format(**values)}", loc="left", fontsize=8, fontweight="bold")
            axes.tick_params(labelsize=6.5)

    row(_LADDERS, top - 0.1, 0.085, _ladder)
    row(_RACES, top - 0.235, 0.085, _race)
    return top - 0.272


def _rows(page: Figure, top: float, foot: float, with_answers: bool) -> None:
    """Write the question of each stop, and beside it the answer or two lines to write on; each row is as high as it needs."""
    rows = []
    for stop in STOPS:
        question = f"{number_of(stop)}. {stop.ask}{'' if stop.short else ' *'}"
        answer = filled(stop, stop.answer) if with_answers else ""
        lines = max(len(textwrap.wrap(text, _NARROW)) for text in (question, answer))
        rows.append((question, answer, (1.35 * (lines - 1) + 1.05) * _SMALL * _POINT))
    spare = (top - foot - sum(high for *_, high in rows)) / len(rows)
    if spare < 0.3 * _SMALL * _POINT:
        raise ValueError(f"The rows of the printed sheet do not fit on its page: {spare / _POINT:.1f} points between two.")
    y = top
    for question, answer, high in rows:
        _words(page, LEFT, y, question, _NARROW, _SMALL)
        _words(page, MIDDLE + 0.01, y, answer, _NARROW, _SMALL)
        for line in () if with_answers else (0.4, 0.85):
            page.add_artist(mpl.lines.Line2D([MIDDLE + 0.01, RIGHT], [y - line * (high + spare)] * 2, color=SOFT, linewidth=0.5))
        y -= high + spare


def sheet(with_answers: bool) -> Figure:
    """Return the handout's page, with lines to write on, or the answer sheet's; ValueError where a text does not fit."""
    page = Figure(figsize=(WIDTH, HEIGHT), facecolor="white")
    FigureCanvasAgg(page)
    title = f"{STOPS[0].title}{': the answers' if with_answers else ''}"
    page.text(LEFT, TOP, title, fontsize=14, fontweight="bold", va="top", color=INK)
    foot = _words(page, LEFT, TOP - 0.026, _ANSWERS if with_answers else _HANDOUT, _BROAD)
    if with_answers:
        foot = _figures(page, foot - 0.018)
    else:
        _contact_set(page, foot - 0.01, 0.17)
        foot -= 0.19
    head = "What do you think? The numbers are those on the screen"
    if with_answers:
        head = "What the model says, at the settings of the talk"
    page.text(LEFT, foot, head, fontsize=10, fontweight="bold", va="top", color=INK)
    caution_top = BOTTOM + 4 * 1.35 * _SMALL * _POINT
    last = f"* Passed by in the talk of {SHORT} minutes. "
    last += CLOSING if with_answers else "To go on, the course is at: " + 48 * "_"
    _rows(page, foot - 0.02, caution_top + 0.018, with_answers)
    _words(page, LEFT, caution_top + 0.013, last, _BROAD + 20, _SMALL)
    _words(page, LEFT, caution_top - 0.004, f"Before you touch a real coil. {CAUTION}", _BROAD + 14, _SMALL, fontweight="bold")
    return page


def _pdf(page: Figure, title: str) -> bytes:
    buffer = io.BytesIO()
    with mpl.rc_context({"pdf.fonttype": 42}):  # letters that can be searched and read aloud
        page.savefig(buffer, format="pdf", metadata={"Title": title, "Creator": None, "Producer": None, "CreationDate": None})
    return buffer.getvalue()


def handout() -> bytes:
    """Return the handout as PDF, the same bytes for the same model."""
    return _pdf(sheet(False), f"Handout: {STOPS[0].title}")


def answers() -> bytes:
    """Return the answer sheet as PDF."""
    return _pdf(sheet(True), f"Answers: {STOPS[0].title}")
