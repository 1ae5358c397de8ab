"""Making outlines: flat lists of points x0, y0, x1, y1, ... in a drawing's units, y downward, angles clockwise from the right."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lessons.contracts import Drawing, DrawnPart, Outline
from lessons.glossary import TERMS

_SENTENCES = {name: term.sentence for term in TERMS for name in (term.word, *term.also)}


def part(word: str, number_at: tuple[float, float], *outlines: Outline, leads_to: tuple[float, float] | None = None) -> DrawnPart:
    """Return the drawn part called `word`, with the glossary's sentence; KeyError where the glossary has no such word."""
    return DrawnPart(word, _SENTENCES[word], outlines, number_at, leads_to)


def box(x: float, y: float, width: float, height: float, fill: str = "steel", pale: bool = False) -> Outline:
    """Return a rectangle with its upper left corner at (x, y)."""
    return Outline((x, y, x + width, y, x + width, y + height, x, y + height), fill, pale=pale)


def shape(*points: float, fill: str = "steel", pale: bool = False) -> Outline:
    """Return a closed outline through `points`."""
    return Outline(points, fill, pale=pale)


def wire(*points: float, fill: str = "steel", dashed: bool = False) -> Outline:
    """Return an open line through `points`."""
    return Outline(points, fill, closed=False, dashed=dashed)


def arc(x: float, y: float, radius: float, start: float, end: float, radius_y: float | None = None) -> list[float]:
    """Return points of an arc about (x, y) from `start` to `end` degrees, at most 6 degrees apart; an ellipse with `radius_y`."""
    tall = radius if radius_y is None else radius_y
    steps = max(1, math.ceil(abs(end - start) / 6.0))
    angles = [math.radians(start + (end - start) * i / steps) for i in range(steps + 1)]
    return [value for a in angles for value in (x + radius * math.cos(a), y + tall * math.sin(a))]


def disc(x: float, y: float, radius: float, fill: str = "steel", pale: bool = False) -> Outline:
    """Return a circle about (x, y)."""
    steps = 12 if radius < 6.0 else 36 if radius < 40.0 else 90
    points = [value for i in range(steps) for value in (x + radius * math.cos(2.0 * math.pi * i / steps),
                                                       y + radius * math.sin(2.0 * math.pi * i / steps))]
    return Outline(points, fill, pale=pale)


def sector(x: float, y: float, inner: float, outer: float, start: float, end: float, fill: str = "steel",
           pale: bool = False) -> Outline:
    """Return the piece of a ring about (x, y) between two radii and two angles in degrees."""
    return Outline([*arc(x, y, outer, start, end), *arc(x, y, inner, end, start)], fill, pale=pale)


def ring(x: float, y: float, inner: float, outer: float, fill: str = "steel", pale: bool = False) -> tuple[Outline, ...]:
    """Return a whole ring about (x, y): a disc, and a clear one on it; what lies in the ring must be drawn after it."""
    return disc(x, y, outer, fill, pale), disc(x, y, inner, "clear")


def polar(x: float, y: float, radius: float, angle: float) -> tuple[float, float]:
    """Return the point at `radius` and `angle` (degrees) from (x, y)."""
    return x + radius * math.cos(math.radians(angle)), y + radius * math.sin(math.radians(angle))


def blade(clamp: tuple[float, float], bend: float, tip: tuple[float, float], thick: float, fill: str) -> Outline:
    """Return a blade: upper face from `clamp`, bent until x = `bend`, from there level to `tip`; `thick` units thick."""
    (x0, y0), y1 = clamp, tip[1]
    upper = [(x0 + (bend - x0) * i / 12.0, y0 + (y1 - y0) * (3.0 * (i / 12.0) ** 2 - 2.0 * (i / 12.0) ** 3)) for i in range(13)]
    upper.append(tip)
    lower = [(x, y + thick) for x, y in reversed(upper)]
    return Outline([value for point in (*upper, *lower) for value in point], fill)


def parts_in_words(drawing: Drawing) -> str:
    """Return a drawing's parts in words, by their numbers, for those who cannot see it."""
    named = ", ".join(f"{number} {drawn.word}" for number, drawn in enumerate(drawing.parts, 1))
    return f"{drawing.title}. Parts by number: {named}."


def span(points: Sequence[float]) -> tuple[float, float, float, float]:
    """Return (least x, least y, greatest x, greatest y) of a flat list of points."""
    return min(points[::2]), min(points[1::2]), max(points[::2]), max(points[1::2])
