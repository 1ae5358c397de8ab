"""The stand-in: any Picture drawn for print, PDF and pages without script. (fallback.py has it in words.)

The same contracts and the same hues (coilbench/hues.json) as the live face; drawn by matplotlib without a display.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from coilbench.looks import WIDTH, hue, hues
from lessons.contracts import Axis, Bars, Chart, Drawing, Ladder, Panel, Picture, Scene, TensionMap
from lessons.face import fallback

_HUES = hues()
_LOOK = _HUES["light"]
_DASH = {"solid": "-", "dashed": (0, (5, 2.5)), "dotted": (0, (1.2, 1.8))}
_MARKER = {"spark": "*", "part": "^", "close": "v", "here": "P", "note": "D"}
_ORDER = (("first spark", "|", "current"), ("second spark", "^", "contact_voltage"), ("third and later", "s", "cushion"))
_HATCH = {"cross": "xxx", "none": "", "rising": "///", "dots": "...", "falling": "\\\\\\", "level": "---"}


# ---------------------------------------------------------------------------------------------------- drawing
def figure(picture: Picture) -> Figure:
    """Return the whole picture as one matplotlib figure: drawing, moving picture as a still, strips, ladder, charts, map.

    Every part that the picture has gets its own axes; strips share their x axis.
    """
    drawn_high = [0.6 * WIDTH * picture.drawing.height / picture.drawing.width] if picture.drawing else []
    heights = (
        drawn_high + [2.2] * (picture.scene is not None) + [1.05] * len(picture.strips) + [2.4] * (picture.ladder is not None)
        + [0.4 + 0.22 * len(bars.bars) for bars in picture.bars] + [2.6] * len(picture.charts) + [3.4] * (picture.map is not None)
    ) or [0.5]
    drawn = Figure(figsize=(WIDTH, sum(heights) + 0.55 * len(heights)), layout="constrained", facecolor="white")
    FigureCanvasAgg(drawn)
    places = iter(drawn.subplots(len(heights), 1, squeeze=False, gridspec_kw={"height_ratios": heights})[:, 0])
    if picture.drawing:
        draw_drawing(next(places), picture.drawing)
    if picture.scene:
        draw_scene(next(places), picture.scene)
    first: Axes | None = None
    for number, strip in enumerate(picture.strips, 1):
        axes = next(places)
        draw_chart(axes, strip, last=number == len(picture.strips))
        if first is None:
            first = axes
        else:
            axes.sharex(first)
    if picture.ladder:
        draw_ladder(next(places), picture.ladder)
    for bars in picture.bars:
        draw_bars(next(places), bars)
    for chart in picture.charts:
        draw_chart(next(places), chart)
    if picture.map:
        draw_map(next(places), picture.map)
    for axes in places:
        axes.axis("off")
    return drawn


def with_unit(axis: Axis) -> str:
    """Return "label (unit)", or the label alone where there is no unit."""
    return axis.label if axis.unit in ("", "1") else f"{axis.label} ({axis.unit})"


def _title(axes: Axes, text: str) -> None:
    axes.set_title(text, loc="left", fontsize=9, fontweight="bold")


def draw_chart(axes: Axes, chart: Chart, last: bool = True) -> None:
    """Draw a chart or strip; a strip that is not the last leaves its x axis to those below."""
    for band in chart.bands:
        (axes.axhspan if band.across == "y" else axes.axvspan)(
            band.low, band.high, facecolor=_LOOK["band"], edgecolor=_LOOK["edge"], linewidth=0.6, linestyle="--")
        middle = (band.low + band.high) / 2
        words: dict[str, Any] = {"fontsize": 7, "color": _LOOK["soft"]}
        if band.across == "y":
            axes.text(0.01, middle, band.label, transform=axes.get_yaxis_transform(), **words)
        else:
            axes.text(middle, 0.04, band.label, transform=axes.get_xaxis_transform(), ha="center", **words)
    for line in chart.lines:
        axes.plot(line.x, line.y, color=hue(line.quantity), linestyle=_DASH[line.dash], linewidth=1.6, label=line.label)
    for mark in chart.marks:
        if mark.y is None:
            at_top = axes.get_xaxis_transform()
            axes.axvline(mark.x, color=hue(mark.quantity), linewidth=1, linestyle="--")
            axes.plot([mark.x], [0.93], _MARKER[mark.shape], transform=at_top, color=hue(mark.quantity), markersize=6)
            axes.text(mark.x, 0.93, f"  {mark.label}", transform=at_top, fontsize=7, va="center")
        else:
            axes.plot([mark.x], [mark.y], _MARKER[mark.shape], color=hue(mark.quantity), markersize=7)
            axes.annotate(mark.label, (mark.x, mark.y), xytext=(5, 4), textcoords="offset points", fontsize=7)
    xs = [value for line in chart.lines for value in (line.x[0], line.x[-1])] or [0.0, 1.0]
    axes.set_xlim(_or(chart.x.low, min(xs)), _or(chart.x.high, max(xs)))
    if chart.y.low is not None or chart.y.high is not None:
        axes.set_ylim(chart.y.low, chart.y.high)
    axes.set_ylabel(with_unit(chart.y), fontsize=8)
    if last:
        axes.set_xlabel(with_unit(chart.x), fontsize=8)
    axes.tick_params(labelsize=7, labelbottom=last)
    axes.grid(color=_LOOK["rule"], linewidth=0.5)
    _title(axes, chart.title)
    if len(chart.lines) > 1:
        axes.legend(fontsize=7, loc="best", framealpha=0.9)


def _or(limit: float | None, own: float) -> float:
    return own if limit is None else limit


def draw_bars(axes: Axes, bars: Bars) -> None:
    """Draw named rows from top to bottom; a strong one is filled and in bold, the others hatched; its words stand behind it."""
    low, high = bars.x.low or 0.0, _or(bars.x.high, 1.0)
    ink = hue(bars.quantity)
    for band in bars.bands:
        axes.axvspan(band.low, band.high, facecolor=_LOOK["band"], edgecolor=_LOOK["edge"], linewidth=0.6, linestyle="--")
        axes.text((band.low + band.high) / 2, -0.75, band.label, fontsize=7, color=_LOOK["soft"], ha="center", va="center")
    for row, bar in enumerate(bars.bars):
        weight = "bold" if bar.strong else "normal"
        if bar.value is not None:
            end = min(max(bar.value, low), high)
            if bars.shape == "point":
                inside = ink if bar.strong else "white"
                axes.plot([end], [row], "D", color=ink, markersize=6, markerfacecolor=inside, clip_on=False)
            else:
                axes.barh(row, end - low, 0.62, low, facecolor=ink if bar.strong else "white", edgecolor=ink, linewidth=0.8,
                          hatch=None if bar.strong else "////")
        if bar.tick is not None:
            axes.plot([bar.tick] * 2, [row - 0.42, row + 0.42], color=_LOOK["ink"], linewidth=1.6)
        axes.text(1.01, row, bar.text, transform=axes.get_yaxis_transform(), fontsize=7, va="center", fontweight=weight)
    if bars.tick:
        axes.plot([], [], "|", color=_LOOK["ink"], markersize=9, markeredgewidth=1.6, label=bars.tick)
        axes.legend(fontsize=7, loc="lower right", framealpha=0.9)
    axes.set_yticks(range(len(bars.bars)), [bar.label for bar in bars.bars], fontsize=7)
    for label, bar in zip(axes.get_yticklabels(), bars.bars, strict=True):
        label.set_fontweight("bold" if bar.strong else "normal")
    axes.set_ylim(len(bars.bars) - 0.4, -1.1 if bars.bands else -0.6)
    axes.set_xlim(low, high)
    axes.set_xlabel(with_unit(bars.x), fontsize=8)
    axes.tick_params(labelsize=7, bottom=bool(bars.x.label), labelbottom=bool(bars.x.label))
    _title(axes, bars.title)


def draw_ladder(axes: Axes, ladder: Ladder) -> None:
    """Draw the spark ladder: crank angle across, pulse number upward, a shape for the first, second and later sparks."""
    weak = {place for place, is_weak in enumerate(ladder.weak) if is_weak}
    for number, (name, marker, quantity) in enumerate(_ORDER, 1):
        of_order = [i for i, order in enumerate(ladder.order) if min(order, 3) == number]
        chosen, faint = [i for i in of_order if i not in weak], [i for i in of_order if i in weak]
        if faint:
            axes.plot([ladder.angle[i] for i in faint], [ladder.pulse[i] + 1 for i in faint], marker, color=hue(quantity),
                      markersize=3.5, markerfacecolor="none", markeredgewidth=0.8, label=f"{name}, too weak to light")
        if chosen or (number == 1 and not faint):
            axes.plot([ladder.angle[i] for i in chosen], [ladder.pulse[i] + 1 for i in chosen], marker, color=hue(quantity),
                      markersize=6, markerfacecolor="none", markeredgewidth=1.8, label=name)
    misfires = sorted(set(range(ladder.pulses)) - {int(pulse) for i, pulse in enumerate(ladder.pulse) if i not in weak})
    for pulse in misfires:
        axes.axhline(pulse + 1, color=_LOOK["soft"], linewidth=0.8, linestyle=":")
    if misfires:
        without = "spark that lights" if weak else "spark"
        axes.plot([0.015] * len(misfires), [pulse + 1 for pulse in misfires], "x", transform=axes.get_yaxis_transform(),
                  color=_LOOK["ink"], markersize=5, label=f"misfire, no {without} ({len(misfires)} of {ladder.pulses})")
    axes.set_ylim(0.4, max(1, ladder.pulses) + 0.6)
    axes.set_xlim(_or(ladder.x.low, min([0.0, *ladder.angle])), _or(ladder.x.high, max([1.0, *ladder.angle])))
    axes.set_xlabel(with_unit(ladder.x), fontsize=8)
    axes.set_ylabel(f"{ladder.row}, in order" if ladder.names else f"{ladder.row} number", fontsize=8)
    if ladder.names:
        axes.set_yticks(range(1, len(ladder.names) + 1), ladder.names)
    axes.tick_params(labelsize=7)
    axes.grid(axis="x", color=_LOOK["rule"], linewidth=0.5)
    axes.legend(fontsize=7, loc="upper left", ncols=4, bbox_to_anchor=(0.0, 1.0), framealpha=0.9)
    _title(axes, ladder.title)


def _edges(values: Sequence[float]) -> list[float]:
    """Return where cells begin and end: halfway between neighbours, and as far beyond the first and the last."""
    if len(values) == 1:
        return [values[0] - 0.5, values[0] + 0.5]
    middles = [(a + b) / 2 for a, b in zip(values, values[1:], strict=False)]
    return [2 * values[0] - middles[0], *middles, 2 * values[-1] - middles[-1]]


def draw_map(axes: Axes, tension: TensionMap) -> None:
    """Draw the map: hue, hatch and digit of every cell say the same; the key gives the words."""
    xs, ys = _edges(tension.xs), _edges(tension.ys)
    looks = _HUES["cells"]

    def written(value: int) -> str:
        return tension.letters.get(value, str(value))

    roomy = len(tension.xs) <= 26 and len(tension.ys) <= 18
    key: dict[int | None, Rectangle] = {}
    for j, row in enumerate(tension.cells):
        for i, value in enumerate(row):
            look = {"fill": "none", "pattern": "none"} if value is None else looks[value % len(looks)]
            cell = Rectangle((xs[i], ys[j]), xs[i + 1] - xs[i], ys[j + 1] - ys[j], facecolor=look["fill"], edgecolor="#5A5A5A",
                             linewidth=0.2, hatch=_HATCH[look["pattern"]])
            axes.add_patch(cell)
            key.setdefault(value, cell)
            if roomy and value is not None:
                axes.text((xs[i] + xs[i + 1]) / 2, (ys[j] + ys[j + 1]) / 2, written(value), fontsize=7, ha="center", va="center",
                          bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8})
    axes.set_xlim(xs[0], xs[-1])
    axes.set_ylim(ys[0], ys[-1])
    if tension.here:
        axes.plot(*tension.here, marker="P", markersize=11, color="black", markeredgecolor="white", markeredgewidth=1.5)
        axes.annotate("your setting", tension.here, xytext=(9, 7), textcoords="offset points", fontsize=8, fontweight="bold",
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 1})
    axes.set_xlabel(with_unit(tension.x), fontsize=8)
    axes.set_ylabel(with_unit(tension.y), fontsize=8)
    axes.tick_params(labelsize=7)
    values = sorted(v for v in key if v is not None)
    words = [f"{written(v)}: {tension.names.get(v, v)}" for v in values]
    handles = [key[v] for v in values]
    if None in key:
        handles.append(key[None])
        words.append(f"blank: {tension.blank}")
    axes.legend(handles, words, fontsize=7, loc="upper left",
                bbox_to_anchor=(1.01, 1.0), borderaxespad=0)
    _title(axes, tension.title)


def moments(scene: Scene) -> tuple[tuple[str, int], ...]:
    """Return three telling moments of a scene as (words, index): at the start, just before the contacts part, widest apart.

    Where they never part: start, middle, end.
    """
    gaps = [v - c for v, c in zip(scene.vibrator, scene.cushion, strict=True)]
    widest = max(range(len(gaps)), key=gaps.__getitem__)
    if gaps[widest] <= 0.005:
        return ("at the start", 0), ("half way", len(gaps) // 2), ("at the end", len(gaps) - 1)
    before = max((i for i in range(widest) if gaps[i] <= 0.002), default=0)
    return ("at the start", 0), ("just before they part", before), ("widest apart", widest)


def draw_scene(axes: Axes, scene: Scene) -> None:
    """Draw the contact set at three moments, side by side; heights to scale, lengths not."""
    stroke = scene.travel + scene.core_stop
    for place, (words, i) in enumerate(moments(scene)):
        left = 1.25 * place
        _draw_moment(axes, scene, i, left)
        spark = ", spark" if scene.spark[i] else ""
        axes.text(left + 0.45, scene.travel + 0.25 * stroke, f"{words}\n{scene.time[i]:.2f} ms, {scene.current[i]:.1f} A{spark}",
                  fontsize=8, ha="center", va="bottom")
    names = ((scene.travel + 0.18 * stroke, "bridge"), (0.12 * stroke, "cushion blade"), (-0.12 * stroke, "vibrator blade"),
             (-scene.core_stop - 0.25 * stroke, "core"))
    for y, name in names:
        axes.text(-0.04, y, name, fontsize=7, ha="right", va="center")
    axes.plot([3.6, 3.6], [-0.1, 0.0], color=_LOOK["ink"], linewidth=1.5, marker="_")
    axes.text(3.64, -0.05, "0.1 mm\nup and down", fontsize=7, va="center")
    axes.set_xlim(-0.5, 4.1)
    axes.set_ylim(-scene.core_stop - 0.4 * stroke, scene.travel + 0.85 * stroke)
    axes.axis("off")
    _title(axes, "The contact set (heights to scale, lengths not)")


def _draw_moment(axes: Axes, scene: Scene, i: int, left: float) -> None:
    """Draw the parts as they stand at entry `i` of the scene, from x = `left` on; up on the page is up."""
    stroke = scene.travel + scene.core_stop
    button, blade = 0.09 * stroke, 0.06 * stroke
    ink: dict[str, Any] = {"edgecolor": _LOOK["ink"], "linewidth": 0.8}

    def box(x: float, y: float, width: float, height: float, fill: str) -> None:
        axes.add_patch(Rectangle((left + x, y), width, height, facecolor=fill, **ink))

    for name, height, above in (("position", -scene.vibrator[i], -button - blade), ("cushion", -scene.cushion[i], button)):
        across = [left + x for x in (0.0, 0.45, 0.9, 0.9, 0.45, 0.0)]
        lower, upper = above, above + blade
        outline = [lower, height + lower, height + lower, height + upper, height + upper, upper]
        axes.fill(across, outline, facecolor=hue(name), **ink)
        box(0.5, height if above > 0 else height - button, 0.12, button, hue(name))
    steel = _LOOK["band"]
    box(0.0, scene.travel + button + blade, 0.95, 0.05 * stroke, steel)  # bridge
    box(0.79, button - 0.05 * stroke, 0.1, 0.05 * stroke, steel)  # the rivet's head
    box(0.83, button, 0.02, scene.travel + blade, steel)  # and its shank
    box(0.36, -scene.core_stop - button - blade - 0.2 * stroke, 0.4, 0.2 * stroke, steel)  # core


def draw_drawing(axes: Axes, drawing: Drawing) -> None:
    """Draw a drawing with its parts' numbers; what each number is stands in the list below the picture."""
    for part in drawing.parts:
        for outline in part.outlines:
            fill = {"steel": _LOOK["band"], "clear": "white"}.get(outline.fill) or hue(outline.fill)
            xs, ys = list(outline.points[::2]), list(outline.points[1::2])
            if outline.closed:
                axes.fill(xs, ys, facecolor=fill, alpha=0.25 if outline.pale else 1.0, edgecolor="none")
                axes.plot([*xs, xs[0]], [*ys, ys[0]], color=_LOOK["ink"], linewidth=0.9)
            else:
                ink = _LOOK["ink"] if outline.fill in ("steel", "clear") else fill
                axes.plot(xs, ys, color=ink, linewidth=0.9, linestyle=(0, (4, 3)) if outline.dashed else "-")
    for note in drawing.notes:
        axes.text(note.x, note.y, note.text, fontsize=7, ha={"start": "left", "middle": "center", "end": "right"}[note.anchor])
    for number, part in enumerate(drawing.parts, 1):
        if part.leads_to:
            axes.plot(*zip(part.number_at, part.leads_to, strict=True), color=_LOOK["soft"], linewidth=0.6)
        axes.text(*part.number_at, str(number), fontsize=8, fontweight="bold", ha="center", va="center",
                  bbox={"boxstyle": "circle,pad=0.3", "facecolor": "white", "edgecolor": _LOOK["ink"], "linewidth": 0.9})
    axes.set_xlim(0.0, drawing.width)
    axes.set_ylim(drawing.height, 0.0)
    axes.set_aspect("equal")
    axes.axis("off")
    _title(axes, drawing.title)


# ------------------------------------------------------------------------------------------------------- image
def png(picture: Picture, dpi: int = 110) -> bytes:
    """Return the stand-in as a PNG image of WIDTH inches at `dpi`, the same bytes for the same picture."""
    return _saved(picture, "png", dpi=dpi, metadata={"Software": None})


def svg(picture: Picture) -> bytes:
    """Return the stand-in as an SVG image (larger than the PNG for long strips; sharp at any size)."""
    return _saved(picture, "svg", metadata={"Date": None})


def _saved(picture: Picture, kind: str, **how: Any) -> bytes:
    buffer = io.BytesIO()
    figure(picture).savefig(buffer, format=kind, **how)
    return buffer.getvalue()


def data_address(picture: Picture) -> str:
    """Return the stand-in as a data address, for an image inside a page."""
    return f"data:image/png;base64,{base64.b64encode(png(picture)).decode()}"


def panel_html(panel: Panel) -> str:
    """Return the panel's custom element with its drawn stand-in inside: what shows until it is live, and in print."""
    picture = panel.picture()
    return fallback.element("coil-panel", {"name": panel.name}, fallback.panel_inside(panel, picture, data_address(picture)))
