"""The coil card as one page of A4, by matplotlib's own PDF: nothing else need be installed to print it."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Sequence
from typing import Any, Literal

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.dates import date2num
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from coilbench.card import CAUTIONS, MODEL_ONLY, Card, fitted_words, how_words, in_a_hundred
from coilbench.card_html import MARK, SIGNS, history_words, number_marks, range_marks
from coilbench.looks import hues

WIDTH, HEIGHT = 8.27, 11.69  # inches: A4
LEFT, RIGHT, TOP, BOTTOM = 0.07, 0.93, 0.965, 0.03  # of the page
POINT = 1.0 / 72.0 / HEIGHT  # a point, as a share of the page's height
BROAD = 118  # letters of 8 points in a line
ROWS = 16  # readings printed; the HTML card has them all
CHARTS = 3
REMARKS = 4  # lines of small print under the readings; the HTML card has all the remarks


def as_pdf(shown: Card, source: str = "") -> bytes:
    """Return the card as a PDF of one page, the same bytes for the same card. source : the sheet's name."""
    buffer = io.BytesIO()
    about = {"Title": f"Coil card: {shown.name}", "Keywords": MARK, "Subject": "; ".join(_said(shown))[:2000], "Creator": None,
             "Producer": None, "CreationDate": None}
    with mpl.rc_context({"pdf.fonttype": 42, "text.parse_math": False}), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a letter that the font lacks is drawn as a box
        page(shown, source).savefig(buffer, format="pdf", metadata=about)
    return buffer.getvalue()


def _said(shown: Card) -> list[str]:
    """Return the page's pictures in words, for the document's own description."""
    return [shown.cause, *(history_words(series, shown.changes) for series in shown.history[:CHARTS])]


class _Page:
    """A sheet of paper that is written on from the top down."""

    def __init__(self) -> None:
        self.figure = Figure(figsize=(WIDTH, HEIGHT), facecolor="white")
        FigureCanvasAgg(self.figure)
        self.y = TOP
        self.ink = hues()["light"]
        self.quantities = {name: shade["light"] for name, shade in hues()["quantities"].items()}

    def put(self, x: float, text: str, size: float = 8.0, look: str = "ink", **more: Any) -> None:
        self.figure.text(x, self.y, text, fontsize=size, va="top", color=self.ink[look], **more)

    def down(self, points: float) -> None:
        self.y -= points * POINT

    def words(self, text: str, size: float = 8.0, look: str = "ink", most: int = 6, **more: Any) -> None:
        """Write a paragraph over the page's width, of at most so many lines."""
        letters = BROAD * 8.0 / size * (0.87 if "fontweight" in more else 1.0)  # bold letters are wider
        lines = textwrap.wrap(text, int(letters), max_lines=most, placeholder=" ...")
        self.put(LEFT, "\n".join(lines), size, look, linespacing=1.3, **more)
        self.down(len(lines) * size * 1.36 + 2.0)

    def head(self, text: str) -> None:
        self.down(5.0)
        self.figure.add_artist(mpl.lines.Line2D([LEFT, RIGHT], [self.y + 2.0 * POINT] * 2, color=self.ink["rule"], linewidth=1.0))
        self.down(2.0)
        self.put(LEFT, text, 10.0, fontweight="bold")
        self.down(16.0)

    def box(self, x: float, width: float, low: float, high: float, look: str, alpha: float = 1.0) -> None:
        """Draw a bar at the line's height: from `x` on, `width` wide, from `low` to `high` points under the line's top."""
        self.figure.add_artist(Rectangle((x, self.y - high * POINT), width, (high - low) * POINT, facecolor=self.ink[look],
                                         edgecolor="none", alpha=alpha, transform=self.figure.transFigure))


def page(shown: Card, source: str = "") -> Figure:
    """Return the page as a figure."""
    paper = _Page()
    paper.put(LEFT, _short(f"Coil card: {shown.name}", 58), 16.0, fontweight="bold")
    paper.down(22.0)
    paper.words(shown.when + (f", from {source}" if source else ""), 8.0, "soft", 1)
    if shown.cause:
        paper.down(3.0)
        paper.words(shown.cause, 10.5, most=5, fontweight="bold")
        for text in shown.held:
            paper.words(text, 7.5, "soft")
        _odds(paper, shown)
        for text in (shown.likeness, *shown.doubts):
            paper.words(text, most=3)
    paper.head("Next step")
    paper.words(CAUTIONS, 7.5, fontweight="bold")
    paper.down(2.0)
    for step in shown.next_steps:
        paper.words(step, 9.0)
    if shown.asked:
        paper.words(how_words(shown.asked), 8.0)
    if shown.lines:
        _readings(paper, shown)
    if shown.fitted:
        _numbers(paper, shown)
    _history(paper, shown)
    paper.y = BOTTOM + 2 * 7.0 * 1.36 * POINT
    paper.words(MODEL_ONLY, 7.0, "soft")
    return paper.figure


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[:most - 3] + "..."


def _odds(paper: _Page, shown: Card) -> None:
    for name, odds in [pair for place, pair in enumerate(shown.odds) if pair[1] >= 0.02 or place == 0][:5]:
        paper.put(LEFT, name)
        paper.put(0.36, in_a_hundred(odds))
        paper.box(0.48, max(0.002, 0.45 * odds), 1.0, 8.0, "accent")
        paper.down(11.5)
    paper.down(3.0)


_SCALE, _SCALE_WIDTH = 0.79, 0.14  # where the little scales stand on the page


def _table_head(paper: _Page, titles: Sequence[tuple[float, str]]) -> None:
    for x, title in titles:
        paper.put(x, title, 7.5, "soft")
    paper.down(11.0)


def _readings(paper: _Page, shown: Card) -> None:
    paper.head("Readings, and what nine in ten well-set coils give")
    _table_head(paper, ((LEFT, "reading"), (0.42, "taken"), (0.52, "well set"), (0.68, "side")))
    lines = shown.lines if len(shown.lines) <= ROWS else shown.lines[:ROWS - 1]
    for line in lines:
        paper.put(LEFT, _short(line.what, 58), 7.5)
        paper.put(0.42, line.taken, 7.5)
        paper.put(0.52, _short(line.usual, 32), 7.5)
        look = "ill" if line.side in ("below", "above") else "ink"
        paper.put(0.68, f"{SIGNS[line.side]} {line.side or 'none'}", 7.5, look)
        marks = range_marks(line)
        if marks:
            _scale(paper, marks["low"], marks["high"], marks["value"], look)
        paper.down(11.0)
    if len(shown.lines) > len(lines):
        paper.words(f"and {len(shown.lines) - len(lines)} more on the HTML card.", 7.5, "soft")
    remarks = [*shown.remarks, *(text for _, text in shown.earlier if not shown.history)]  # else they are drawn
    if remarks:
        paper.words(" ".join(remarks), 7.0, "soft", REMARKS)


def _scale(paper: _Page, low: float, high: float, value: float | None, look: str,
           before: tuple[float, float] | None = None) -> None:
    def x(percent: float) -> float:
        return _SCALE + _SCALE_WIDTH * percent / 100.0

    first, last = before or (0.0, 100.0)
    paper.box(x(first), x(last) - x(first), 4.0 if before is None else 3.0, 5.0 if before is None else 6.0, "rule")
    if value is not None:
        paper.box(x(low), max(0.001, x(high) - x(low)), 1.5, 7.5, "accent", 0.4)
        paper.box(x(value) - 0.001, 0.002, 0.0, 9.0, look)


def _numbers(paper: _Page, shown: Card) -> None:
    paper.head("The fitted machine: numbers that agree with these readings")
    _table_head(paper, ((LEFT, "number"), (0.38, "likely"), (0.46, "nine in ten lie in"), (0.63, "before any reading")))
    for fitted in shown.fitted:
        likely, limits, before = fitted_words(fitted)
        paper.put(LEFT, fitted.number.name, 7.5)
        paper.put(0.38, likely, 7.5)
        paper.put(0.46 if fitted.told else 0.38, limits if fitted.told else "not told by these readings", 7.5,
                  "ink" if fitted.told else "soft")
        paper.put(0.63, before, 7.5)
        marks = number_marks(fitted)
        _scale(paper, marks["low"], marks["high"], marks["median"] if fitted.told else None, "ink",
               (marks["before_low"], marks["before_high"]))
        paper.down(11.0)


def _history(paper: _Page, shown: Card) -> None:
    paper.head("History")
    if not shown.history:
        paper.words("No reading has been taken on two days yet.", 7.5, "soft")
    room = paper.y - BOTTOM - 0.075
    if shown.history and room > 0.07:
        _charts(paper, shown, min(room, 0.17))
    changed = "; ".join(f"{day or 'no date'}: {what}" for day, what in shown.changes)
    if changed:
        paper.words(f"Adjusted (dashed line): {changed}", 7.5, "soft", 2)


def _charts(paper: _Page, shown: Card, high: float) -> None:
    drawn = shown.history[:CHARTS]
    wide, gap = 0.25, 0.055
    for place, series in enumerate(drawn):
        axes = paper.figure.add_axes((LEFT + 0.025 + place * (wide + gap), paper.y - high + 0.005, wide, high - 0.03))
        unit = f", {series.kind.unit}" if series.kind.unit else ""
        axes.set_title(textwrap.shorten(f"{series.brief}{unit}", 44), fontsize=7, loc="left")
        if series.usual:
            axes.axhspan(*series.usual, color=paper.ink["accent"], alpha=0.2, linewidth=0)
        days = [date2num(day) for day, _, _ in series.points]
        hue = paper.quantities[series.kind.hue]
        axes.plot(days, [value for _, value, _ in series.points], color=hue, linewidth=1.0)
        for day, (_, value, counts) in zip(days, series.points, strict=True):
            axes.plot(day, value, marker="o", markersize=5, color=hue, markerfacecolor=hue if counts else "white")
        changes = [date2num(day) for day, _ in shown.changes if day]
        for day in changes:
            axes.axvline(day, color=paper.ink["ink"], linestyle=(0, (4, 3)), linewidth=0.8)
        first, last = min([*days, *changes]), max([*days, *changes])
        axes.set_xlim(first - 0.08 * (last - first) - 0.5, last + 0.08 * (last - first) + 0.5)
        axes.set_xticks([first, last], [str(mpl.dates.num2date(day).date()) for day in (first, last)])
        sides: tuple[Literal["left", "right"], ...] = ("left", "right")
        for label, side in zip(axes.get_xticklabels(), sides, strict=True):
            label.set_horizontalalignment(side)
        axes.tick_params(labelsize=6.5, length=2)
        axes.margins(y=0.15)
        for edge in ("top", "right"):
            axes.spines[edge].set_visible(False)
    paper.y -= high + 0.02
    paper.words("Filled: counts today; hollow: taken before an adjustment. Band: nine in ten well-set coils.", 7.0, "soft")
