"""A tolerance study in words, as pictures, and as a page that needs nothing beside itself."""

from __future__ import annotations

import base64
import html
import io
import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from coilbench.looks import WIDTH, hue, hues
from coilmodel.study.findings import Cause, Findings, Share
from coilmodel.study.plan import Varied, numbers

WORTH_NAMING = 0.05  # total index above which, with its whole error bar above half of it, a number is called a cause
NAMES = {
    "vibrator.preload": "vibrator preload", "vibrator.stiffness": "vibrator stiffness", "vibrator.mass": "vibrator mass",
    "cushion.preload": "cushion preload", "cushion.stiffness": "cushion stiffness", "cushion.travel": "follow travel",
    "coil.magnetic_gap": "gap to the core", "gap.breakdown": "spark gap's breakdown voltage", "condenser.capacitance":
    "condenser capacity", "drive.drive": "drive", "drive.rpm": "speed", "magneto.flux_linkage": "magneto strength",
}
HUES = {"vibrator": "position", "cushion": "cushion", "coil": "current", "condenser": "contact_voltage", "gap": "secondary",
        "contacts": "contact_voltage", "magneto": "emf", "drive": "emf"}
"""The hue that a number's part of the machine has on every picture of the course."""

SCALES = {"m": (1e3, "mm"), "F": (1e6, "uF"), "V": (1e-3, "kV"), "H": (1e3, "mH"), "kg": (1e3, "g"), "s": (1e3, "ms")}
CAUTION = (
    "A study is a calculation, not a test of a coil. Where its outcome leads you to an adjustment: the secondary can exceed 20 "
    "kV; a condenser keeps its charge, so discharge it through a resistor before and after; no fuel vapour near a spark; belts "
    "and flywheels take sleeves and fingers; people with a pacemaker stay away from a running coil. Local codes and licensed "
    "practice come first.")


# -------------------------------------------------------------------------------------------------------------- words
def called(name: str) -> str:
    """Return a number's name as people say it.

    >>> called("cushion.travel"), called("contacts.arc_current")
    ('follow travel', 'contacts arc current')
    """
    return NAMES.get(name, name.replace(".", " ").replace("_", " "))


def inside(value: float, name: str, unit: str) -> tuple[float, str]:
    """Return a value in the unit that people use, and that unit; `name` is the number's, `unit` its own (SI)."""
    if name == "drive.drive":
        return 100.0 * value, "%"
    scale, word = SCALES.get(unit, (1.0, unit))
    return scale * value, "" if word == "1" else word


def percent(share: float) -> str:
    """Return a share in percent, to a tenth."""
    return f"{100.0 * share:.1f} %" if math.isfinite(share) else "unknown"


def with_limits(share: Share) -> str:
    """Return a share with its limits and what it was counted on."""
    return f"{percent(share.share)} ({percent(share.low)} to {percent(share.high)}; {share.count} of {share.of})"


def summary(plan: Mapping[str, Any], findings: Findings) -> list[str]:
    """Return what a study says, a sentence or two a line."""
    lines = [
        f"Of the coils that the plan describes, {with_limits(findings.unsound)} are unsound: in {findings.pulses} pulses they "
        "have at least one that misfires, or fires more than once. The limits hold the true share 95 times in 100.",
        f"More than one spark in some pulse: {with_limits(findings.multiple)}. A misfire in some pulse: "
        f"{with_limits(findings.misfire)}. Not a single pulse right: {with_limits(findings.always)}.",
        f"Of all pulses, {percent(findings.pulses_multiple)} have more than one spark, "
        f"{percent(findings.pulses_misfired)} misfire.",
    ]
    if findings.refused:
        worst = (findings.unsound.count + findings.refused_coils) / max(findings.coils, 1)
        lines.append(f"The model refused {findings.refused} of {findings.runs} runs, {findings.refused_coils} of "
                     f"{findings.coils} coils; they are recorded as refused. Were they all unsound, the share would be "
                     f"{percent(worst)}. Where causes are sought, a refused run counts as unsound.")
    if findings.open_ledgers:
        lines.append(f"In {findings.open_ledgers} runs more than 1 % of the energy is unaccounted for; trust those less.")
    lines.append(_causes_in_words(plan, findings))
    return lines


def _causes_in_words(plan: Mapping[str, Any], findings: Findings) -> str:
    if findings.unsound.count in (0, findings.unsound.of):
        return "All coils do alike, so nothing can be said of causes." if findings.unsound.of else "Nothing ran."
    if not plan["causes"]:
        moving = "; ".join(f"{called(c.name)}, {_which_way(c)}" for c in findings.causes[:3])
        return f"What goes with it most: {moving}. (The plan seeks no causes; causes = true would weigh them.)"
    named = [c for c in findings.causes if c.total[0] >= WORTH_NAMING and c.total[1] > 0.5 * WORTH_NAMING]
    if not named:
        return "No number stands out as a cause; more coils would narrow the error bars."
    told = "; ".join(f"{called(c.name)} {c.total[0]:.2f} ({c.total[1]:.2f} to {c.total[2]:.2f}), {_which_way(c)}"
                     for c in named[:4])
    alone = sum(max(c.first[0], 0.0) for c in findings.causes)
    return (f"Main causes, by total Sobol index (the share of the variance that a number has a part in): {told}. "
            f"Single numbers by themselves explain {percent(alone)} of it; the rest is several together.")


def _which_way(cause: Cause) -> str:
    low, high = (sum(part) / 2.0 for part in (cause.shares[:2], cause.shares[-2:]))
    middle = sum(cause.shares[3:5]) / 2.0
    if high > 1.5 * low and high >= middle:
        return f"more unsound ones where it is high ({percent(high)} in the highest quarter, {percent(low)} in the lowest)"
    if low > 1.5 * high and low >= middle:
        return f"more unsound ones where it is low ({percent(low)} in the lowest quarter, {percent(high)} in the highest)"
    if min(low, high) > 1.3 * middle:
        return f"more unsound ones at both ends ({percent(low)} and {percent(high)}, {percent(middle)} in the middle)"
    return "which way depends on the other numbers"


def wrapped(text: str) -> str:
    """Return `text` folded to the width of a card."""
    return textwrap.fill(text, 100)


def varied_table(plan: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return (number, how it varied) of each number of a plan, in people's words and units."""
    rows = []
    for one in plan["vary"]:
        given = {key: value for key, value in one.items() if key not in ("name", "unit", "like", "nominal")}
        for key, value in given.items():
            if key != "percent":
                given[key], unit = inside(value, one["name"], one["unit"])
        unit = inside(0.0, one["name"], one["unit"])[1]
        rows.append((called(one["name"]), Varied(one["name"], unit, one["like"], tuple(given.items()), 0.0).say()))
    return rows


# ----------------------------------------------------------------------------------------------------------- pictures
def bars(findings: Findings) -> Figure:
    """Return the causes as bars: first and total Sobol index of each number, with error bars."""
    causes = list(findings.causes)[::-1]
    figure, axes = _figure(0.42 * len(causes) + 1.1)
    for place, cause in enumerate(causes):
        colour = hue(HUES[cause.name.split(".")[0]])
        for index, offset, filled in ((cause.total, 0.19, True), (cause.first, -0.19, False)):
            at, width = place + offset, max(index[0], 0.0)
            axes.barh(at, width, 0.36, color=colour if filled else "white", edgecolor=colour, hatch="" if filled else "////",
                      linewidth=1.2)
            axes.plot(index[1:], [at, at], color=_look("ink"), linewidth=1.3, marker="|", markersize=5)
    axes.set_yticks(range(len(causes)), [called(cause.name) for cause in causes], fontsize=8)
    axes.axvline(0.0, color=_look("edge"), linewidth=0.8)
    axes.set_xlim(min(-0.02, *(cause.first[1] for cause in causes)), None)
    _dressed(axes, "What makes coils unsound", "Sobol index (share of the variance; bars: 95 % limits)", "")
    axes.barh(0, 0, color=_look("soft"), label="with others (total)")
    axes.barh(0, 0, color="white", edgecolor=_look("soft"), hatch="////", label="alone (first order)")
    axes.legend(fontsize=7, loc="lower right")
    return figure


def curves(findings: Findings, most: int = 4) -> Figure:
    """Return the share of unsound coils over each of the `most` leading numbers."""
    causes = findings.causes[:most]
    figure = Figure(figsize=(WIDTH, 2.1 * math.ceil(len(causes) / 2) + 0.3), layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    grid = figure.subplots(math.ceil(len(causes) / 2), 2, squeeze=False, sharey=True)
    for axes, cause in zip(grid.flat, causes, strict=False):
        edges, unit = [], ""
        for edge in cause.edges:
            value, unit = inside(edge, cause.name, cause.unit)
            edges.append(value)
        axes.stairs([100.0 * value for value in cause.shares], edges, color=hue(HUES[cause.name.split(".")[0]]), linewidth=2.0)
        _dressed(axes, called(cause.name), unit or "", "unsound, %")
        axes.set_ylim(0.0, None)
    for axes in list(grid.flat)[len(causes):]:
        axes.axis("off")
    return figure


def tension_map(findings: Findings, known: Mapping[str, str]) -> Figure:
    """Return the map of the share of unsound coils over two numbers. known: a number's name to its unit (SI)."""
    own = findings.map
    assert own is not None
    figure, axes = _figure(3.4)
    scales = [inside(1.0, name, known[name]) for name in (own.x, own.y)]
    cells = [[math.nan if cell is None else 100.0 * cell for cell in row] for row in own.cells]
    x_edges, y_edges = ([scale * edge for edge in edges] for (scale, _), edges in
                        zip(scales, (own.x_edges, own.y_edges), strict=True))
    axes.set_facecolor(_look("band"))
    mesh = axes.pcolormesh(x_edges, y_edges, cells, cmap="cividis_r", vmin=0.0, edgecolors="white", linewidth=0.4)
    bar = figure.colorbar(mesh, ax=axes)
    bar.set_label("unsound coils, %", fontsize=8)
    bar.ax.tick_params(labelsize=7)
    most = mesh.get_clim()[1] or 1.0
    for number, value in enumerate(value for row in cells for value in row):
        up, along = divmod(number, len(own.x_edges) - 1)
        if math.isfinite(value):
            axes.text(sum(x_edges[along:along + 2]) / 2, sum(y_edges[up:up + 2]) / 2, f"{value:.0f}", ha="center", va="center",
                      fontsize=6.5, color="white" if value > 0.6 * most else "black")
    _dressed(axes, "Tension map: how many in 100 are unsound (grey: hardly any coil there)",
             f"{called(own.x)} ({scales[0][1]})", f"{called(own.y)} ({scales[1][1]})")
    return figure


def _figure(height: float) -> tuple[Figure, Any]:
    figure = Figure(figsize=(WIDTH, height), layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    return figure, figure.subplots()


def _look(what: str) -> str:
    return hues()["light"][what]


def _dressed(axes: Any, title: str, x: str, y: str) -> None:
    axes.set_title(title, loc="left", fontsize=9, fontweight="bold")
    axes.set_xlabel(x, fontsize=8)
    axes.set_ylabel(y, fontsize=8)
    axes.tick_params(labelsize=7)
    axes.set_axisbelow(True)
    axes.grid(color=_look("rule"), linewidth=0.5)


def pictures(plan: Mapping[str, Any], findings: Findings) -> list[tuple[str, str, Figure]]:
    """Return (name, text alternative, figure) of each picture that the study allows."""
    found = []
    if plan["causes"] and 0 < findings.unsound.count < findings.unsound.of:
        told = "; ".join(f"{called(c.name)} total {c.total[0]:.2f}, alone {c.first[0]:.2f}" for c in findings.causes)
        found.append(("causes", f"Bars of the Sobol index of each number that varies: {told}.", bars(findings)))
    if findings.unsound.count:
        told = "; ".join(f"{called(c.name)}: from low to high {', '.join(f'{100 * s:.0f}' for s in c.shares)} %"
                         for c in findings.causes[:4])
        found.append(("shares", f"Share of unsound coils over the leading numbers. {told}.", curves(findings)))
        if findings.map is not None:
            known = {one["name"]: one["unit"] for one in plan["vary"]}
            rows = [f"{', '.join('none' if cell is None else f'{100 * cell:.0f}' for cell in row)}" for row in findings.map.cells]
            found.append(("map", f"Map of the share of unsound coils in percent, {called(findings.map.x)} across, "
                          f"{called(findings.map.y)} upward; rows from the bottom: {'; '.join(rows)}.",
                          tension_map(findings, known)))
    return found


def png(figure: Figure, dpi: int = 130) -> bytes:
    """Return `figure` as a PNG of `dpi` dots an inch, the same bytes for the same picture."""
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=dpi, metadata={"Software": None})
    return buffer.getvalue()


# --------------------------------------------------------------------------------------------------------------- page
STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem; color: #1B1F24; }
table { border-collapse: collapse; } td, th { border: 1px solid #C6CCD4; padding: .25rem .6rem; text-align: left; }
.scroll { overflow-x: auto; } img { max-width: 100%; height: auto; }
.caution { border-left: 4px solid #A83A00; padding-left: .8rem; }
"""


def page(plan: Mapping[str, Any], findings: Findings) -> str:
    """Return the report as one page of HTML that loads nothing."""
    body = [f"<p>{html.escape(line)}</p>" for line in summary(plan, findings)]
    for _, alt, figure in pictures(plan, findings):
        body.append(f'<p><img alt="{html.escape(alt)}" src="data:image/png;base64,{base64.b64encode(png(figure)).decode()}"></p>')
    coils = findings.coils
    body += [
        "<h2>The plan</h2>",
        f"<p>{plan['runs']} {'pairs of ' if plan['causes'] else ''}imagined coils ({coils} drawn, {findings.runs} runs), seed "
        f"{plan['seed']}; each watched for {plan['pulses']} pulses after {plan['warm_up']}, on the {html.escape(plan['drive'])}. "
        "All else as in the course's nominal machine.</p>",
        html_table(("number", "how it varied"), varied_table(plan)),
    ]
    if plan["fixed"]:
        units = numbers(plan["drive"])
        body += ["<p>Set otherwise than nominal:</p>", html_table(("number", "value"), [
            (called(name), "{:.4g} {}".format(*inside(value, name, units[name].unit)).strip()) for name, value in
            plan["fixed"].items()])]
    body.append(f'<p class="caution">{html.escape(CAUTION)}</p>')
    return html_page("Tolerance study", body)


def html_page(title: str, body: Sequence[str]) -> str:
    """Return a report's whole page: its title, and its parts in HTML."""
    return ("<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
            f"content=\"width=device-width, initial-scale=1\"><title>{title}</title><style>{STYLE}</style></head><body>"
            f"<h1>{title}</h1>{''.join(body)}</body></html>\n")


def html_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table in HTML that scrolls on a narrow screen."""
    cells = "".join(f"<th>{html.escape(cell)}</th>" for cell in head)
    lines = "".join("<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<div class="scroll"><table><tr>{cells}</tr>{lines}</table></div>'
