"""The coil card as one HTML file: no script, nothing fetched, good on paper, its charts with a text beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import jinja2

from coilbench.card import CAUTIONS, MODEL_ONLY, Card, Line, Series, anchor, fitted_words, how_words, in_a_hundred
from coilbench.looks import hues
from coilbench.verdict import Fitted

MARK = "bench coil card"
"""Stands in every file that the command wrote, so that it replaces no other."""

SIGNS = {"within": "✓", "below": "▼", "above": "▲", "": "–"}
CHARTS = 6  # histories drawn at most; the sheet has them all


@cache
def _template() -> jinja2.Template:
    surroundings = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined)
    style = Path(__file__).with_name("card.css").read_text(encoding="utf-8")
    surroundings.globals.update(style=style, hues=hues(), SIGNS=SIGNS, MARK=MARK, CAUTIONS=CAUTIONS, MODEL_ONLY=MODEL_ONLY)
    surroundings.filters.update(in_a_hundred=in_a_hundred, fitted_words=fitted_words, anchor=anchor, how_words=how_words)
    return surroundings.from_string(Path(__file__).with_name("card.html.j2").read_text(encoding="utf-8"))


def as_html(shown: Card, source: str = "", part: bool = False, home: str = "") -> str:
    """Return the card as a page of HTML.

    source : the sheet's name; part : only the body, to be set into another page; home : the address, seen from the card, of the
    page that tells how readings are taken, "" where there is none
    """
    return _template().render(
        card=shown, source=source, part=part, home=home, ranges=[range_marks(line) for line in shown.lines],
        numbers=[number_marks(fitted) for fitted in shown.fitted],
        charts=[chart(series, shown.changes) for series in shown.history[:CHARTS]],
        more=max(0, len(shown.history) - CHARTS), level=3 if part else 2)


def card_style() -> str:
    """Return the style of cards that are parts of another page, in its light and in its dark theme (html[data-theme=dark])."""
    return _template().module.whole_style(".coil-card", "html[data-theme=dark] .coil-card")  # type: ignore[attr-defined]


# ------------------------------------------------------------------------------------------------------ small scales
def range_marks(line: Line) -> dict[str, float] | None:
    """Return a reading's place on a scale of its own, in percent: the well-set range's ends and the reading."""
    judged = line.judged
    if judged.never:
        return None
    low, high, value = judged.low, judged.high, judged.reading.value
    room = max(0.6 * (high - low), 1e-12, 0.02 * abs(high))
    left, right = min(low, value) - room, max(high, value) + room
    if left < 0.0 <= min(low, value):
        left = 0.0
    span = right - left
    return {name: round(100.0 * (place - left) / span, 1) for name, place in (("low", low), ("high", high), ("value", value))}


def number_marks(fitted: Fitted) -> dict[str, float]:
    """Return a fitted number's limits before and after on a scale of ratios, in percent."""
    logs = {name: math.log(value) for name, value in (("before_low", fitted.before_low), ("before_high", fitted.before_high),
                                                      ("low", fitted.low), ("high", fitted.high), ("median", fitted.median))}
    left, right = min(logs.values()), max(logs.values())
    room = 0.06 * (right - left) + 1e-9
    return {name: round(100.0 * (place - left + room) / (right - left + 2.0 * room), 1) for name, place in logs.items()}


# ---------------------------------------------------------------------------------------------------------- history
def chart(series: Series, changes: Sequence[tuple[date | None, str]]) -> dict[str, Any]:
    """Return a history laid out in a box of 320 x 150, with its ticks and the same in words."""
    days = [day for day, _, _ in series.points]
    marks = [(day, what) for day, what in changes if day]
    first, last = min([*days, *(day for day, _ in marks)]), max([*days, *(day for day, _ in marks)])
    values = [value for _, value, _ in series.points] + list(series.usual or ())
    ticks = _ticks(min(values), max(values))
    low, high = min(ticks[0], *values), max(ticks[-1], *values)
    left, right, top, bottom = 44.0, 308.0, 14.0, 118.0

    def x(day: date) -> float:
        return round(left + 10.0 + (right - left - 20.0) * (day - first).days / max((last - first).days, 1), 1)

    def y(value: float) -> float:
        return round(bottom - (bottom - top) * (value - low) / ((high - low) or 1.0), 1)

    unit = f", {series.kind.unit}" if series.kind.unit else ""
    band = None
    if series.usual:
        band = {"y": y(min(series.usual[1], high)), "height": round(y(series.usual[0]) - y(series.usual[1]), 1)}
    shown_days = [first, last] if first != last else [first]
    return {
        "title": f"{series.what}{unit}", "hue": series.kind.hue, "left": left, "right": right, "top": top, "bottom": bottom,
        "points": [{"x": x(day), "y": y(value), "counts": counts} for day, value, counts in series.points], "band": band,
        "ticks": [{"y": y(tick), "text": f"{tick:g}"} for tick in ticks], "days": [{"x": x(day), "text": str(day)}
                                                                                   for day in shown_days],
        "changes": [x(day) for day, _ in marks], "words": history_words(series, changes)}


def _ticks(low: float, high: float) -> list[float]:
    """Return two to five round values that span `low` to `high`."""
    span = (high - low) or abs(high) or 1.0
    step = 10.0 ** math.floor(math.log10(span))
    step *= next(factor for factor in (0.2, 0.5, 1.0, 2.0, 5.0) if span / (factor * step) <= 4.0)
    return [float(f"{step * place:.6g}") for place in range(math.floor(low / step), math.ceil(high / step) + 1)]


def history_words(series: Series, changes: Sequence[tuple[date | None, str]]) -> str:
    """Return a history in words: each day's reading, and what was adjusted between."""
    happened: list[tuple[date, int, str]] = [
        (day, 0, f"{day}: {series.kind.say(value * series.kind.one)}{'' if counts else ' (no longer counts)'}")
        for day, value, counts in series.points]
    happened += [(day, 1, f"{day}: adjusted ({what})") for day, what in changes if day]
    words = "; ".join(words for _, _, words in sorted(happened))
    if series.usual:
        low, high = (limit * series.kind.one for limit in series.usual)
        words += f". A well-set coil gives {series.kind.between(low, high)}"
    return f"{series.what}: {words}."

