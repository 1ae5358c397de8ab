"""Small charts as inline SVG, in the hues of the course on a light and on a dark page, readable on a phone."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from coilbench.looks import hues

WIDE, LEFT, RIGHT = 400.0, 44.0, 8.0  # narrow, so that the letters are large enough on a phone
STRIP, TITLE = 125.0, 28.0  # height of one strip's plot, and of its title


def percent(share: float) -> str:
    """Return a share in words: percent, or parts in a million where percent would be all noughts."""
    if share == 0.0:
        return "0"
    if abs(share) < 5e-5:
        return f"{1e6 * share:.2g} parts in a million"
    return f"{100.0 * share:.2g}\u00a0%"


def figure(drawn: str, caption: str) -> str:
    """Return a drawing with its caption, as a piece of a Markdown page."""
    return f"```{{raw}} html\n<figure class=\"course-chart\">{drawn}<figcaption>{caption}</figcaption></figure>\n```"


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Return round numbers from `low` to `high`, at most so many and one."""
    rough = (high - low) / most
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if size * factor >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [round((first + n) * step, 12) for n in range(math.floor(high / step + 1e-9) - first + 1)]


def strips(parts: Sequence[tuple[str, str, Sequence[Mapping[str, Any]]]], title: str, other: str) -> str:
    """Return traces over time, one strip under another, the other solver's points as dots.

    parts : (title, unit, lines) of each strip, lines as `coilmodel.proof.pictures.Line`; title : of the whole; other : whose dots
    """
    longest = max(line["x"][-1] for _, _, lines in parts for line in lines)
    shapes, top = [], 0.0
    for name, unit, lines in parts:
        top += TITLE
        values = [value for line in lines for value in (*line["y"], *line["other"])]
        low, high = min(values), max(values)
        room = 0.06 * (high - low or 1.0)
        low, high = low - room, high + room
        shapes.append(f'<text x="{LEFT}" y="{top - 9:.1f}" class="ch-title">{escape(f"{name} ({unit})")}</text>')
        shapes += [_level(value, top, low, high) for value in ticks(low, high)]
        for line in lines:
            points = " ".join(f"{_x(a, longest)},{_y(b, top, low, high)}" for a, b in zip(line["x"], line["y"], strict=True))
            shapes.append(f'<polyline class="ch-{line["quantity"]}" points="{points}"/>')
            shapes += [f'<circle class="ch-{line["quantity"]}" cx="{_x(a, longest)}" cy="{_y(b, top, low, high)}" r="3"/>'
                       for a, b in zip(line["at"], line["other"], strict=True)]
        if len(lines) > 1:
            shapes += [f'<text class="ch-{line["quantity"]}" x="{WIDE - RIGHT - 4}" y="{top + 15 + 17 * row:.1f}" '
                       f'text-anchor="end">{escape(line["label"])}</text>' for row, line in enumerate(lines)]
        top += STRIP
    for value in ticks(0.0, longest):
        x = _x(value, longest)
        shapes.append(f'<path class="ch-rule" d="M{x} {top:.1f}v5"/>'
                      f'<text x="{x}" y="{top + 19:.1f}" text-anchor="middle">{value:g}</text>')
    shapes.append(f'<text x="{WIDE - RIGHT}" y="{top + 36:.1f}" text-anchor="end">ms</text>')
    label = f"{title}: {', '.join(name for name, _, _ in parts)} over {longest:.2g} ms; the dots of {other} lie on our lines."
    return _svg("".join(shapes), top + 42.0, label)


def bars(shares: Mapping[str, float], title: str, least: float = 1e-3) -> str:
    """Return named shares as bars, the greatest first; those under `least` are left to the caption."""
    shown = {name: share for name, share in shares.items() if share >= least}
    left, row, most = 150.0, 26.0, max(shown.values())
    shapes = []
    for place, (name, share) in enumerate(shown.items()):
        y, long = 6.0 + row * place, (WIDE - left - 62) * share / most
        shapes.append(f'<text x="{left - 8}" y="{y + 15:.1f}" text-anchor="end">{escape(name)}</text>'
                      f'<rect class="ch-energy" x="{left}" y="{y:.1f}" width="{long:.1f}" height="18"/>'
                      f'<text x="{left + long + 6:.1f}" y="{y + 15:.1f}">{percent(share)}</text>')
    label = f"{title}: {', '.join(f'{name} {percent(share)}' for name, share in shown.items())}."
    return _svg("".join(shapes), 12.0 + row * len(shown), label)


def dots(groups: Mapping[str, tuple[str, Sequence[tuple[float, float]]]], x: tuple[str, float, float],
         y: tuple[str, float, float], title: str) -> str:
    """Return points in a plane: a dot each, in the hue of its group.

    groups : a label to (quantity whose hue it has, points); x, y : name, low and high of the axes; points outside are put on
    the edge; title : of the whole
    """
    (x_name, left, right), (y_name, low, high) = x, y
    tall, top = 240.0, TITLE
    shapes = [f'<text x="{LEFT}" y="{top - 9:.1f}" class="ch-title">{escape(y_name)}</text>']

    def place(a: float, b: float) -> tuple[float, float]:
        a, b = min(max(a, left), right), min(max(b, low), high)
        return (round(LEFT + (WIDE - LEFT - RIGHT) * (a - left) / (right - left), 1),
                round(top + tall * (high - b) / (high - low), 1))

    for value in ticks(low, high):
        at = place(left, value)[1]
        shapes.append(f'<path class="ch-rule" d="M{LEFT} {at}H{WIDE - RIGHT}"/><text x="{LEFT - 5}" y="{at + 4.5:.1f}" '
                      f'text-anchor="end">{value:g}</text>')
    for value in ticks(left, right):
        at = place(value, low)[0]
        shapes.append(f'<path class="ch-rule" d="M{at} {top + tall:.1f}v5"/><text x="{at}" y="{top + tall + 19:.1f}" '
                      f'text-anchor="middle">{value:g}</text>')
    shapes.append(f'<text x="{WIDE - RIGHT}" y="{top + tall + 37:.1f}" text-anchor="end">{escape(x_name)}</text>')
    for row, (label, (quantity, points)) in enumerate(groups.items()):
        shapes += ['<circle class="ch-{}" cx="{}" cy="{}" r="4"/>'.format(quantity, *place(*point)) for point in points]
        shapes.append(f'<text class="ch-{quantity}" x="{WIDE - RIGHT - 4}" y="{top + 15 + 17 * row:.1f}" text-anchor="end">'
                      f'{escape(label)}</text>')
    count = sum(len(points) for _, points in groups.values())
    return _svg("".join(shapes), top + tall + 44.0, f"{title}: {count} machines, {x_name} across, {y_name} upward.")


def _x(value: float, longest: float) -> float:
    return round(LEFT + (WIDE - LEFT - RIGHT) * value / longest, 1)


def _y(value: float, top: float, low: float, high: float) -> float:
    return round(top + STRIP * (high - value) / (high - low), 1)


def _level(value: float, top: float, low: float, high: float) -> str:
    y = _y(value, top, low, high)
    return (f'<path class="ch-rule" d="M{LEFT} {y}H{WIDE - RIGHT}"/><text x="{LEFT - 5}" y="{y + 4.5:.1f}" text-anchor="end">'
            f'{value:g}</text>')


def _svg(shapes: str, high: float, label: str) -> str:
    return (f'<svg viewBox="0 0 {WIDE:g} {high:g}" role="img" aria-label="{escape(label)}" class="course-chart-svg">'
            f"<style>{_style()}</style>{shapes}</svg>")


def _style() -> str:
    """Return the charts' colours: the hues of the course, for a light and for a dark page."""
    found = hues()

    def rules(theme: str, prefix: str) -> str:
        look = found[theme]
        text = f"{prefix}.course-chart-svg text{{fill:{look['ink']}}}{prefix}.ch-rule{{stroke:{look['rule']}}}"
        for name, pair in found["quantities"].items():
            text += (f"{prefix}polyline.ch-{name}{{stroke:{pair[theme]}}}{prefix}circle.ch-{name}{{stroke:{pair[theme]}}}"
                     f"{prefix}rect.ch-{name},{prefix}.course-chart-svg text.ch-{name}{{fill:{pair[theme]}}}")
        return text

    return (".course-chart-svg{max-width:32rem;width:100%;height:auto;display:block}.course-chart-svg text{font:14px sans-serif}"
            ".course-chart-svg .ch-title{font-weight:600}.course-chart-svg polyline{fill:none;stroke-width:1.6}"
            ".course-chart-svg circle{fill:none;stroke-width:1.2}.ch-rule{stroke-width:1}"
            + rules("light", "") + rules("dark", 'html[data-theme="dark"] '))

