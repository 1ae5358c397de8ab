"""The picture of a scope capture: a typical stretch as captured, as fitted and as the model has it, drawn by the lessons' face.

What was found, and the words for it, are the bench's (coilbench/capture); this turns them into a Picture. Needs numpy.
"""

from __future__ import annotations

import base64
import html
import io
from pathlib import Path

import numpy as np

from coilbench.capture.findings import Found
from coilbench.capture.show import Likeness, plus_minus
from coilbench.capture.trace import NAMES
from coilmodel.readings import first_openings, read
from lessons.contracts import Axis, Chart, Line, Mark, Picture, Reading
from lessons.face.standin import figure

MOST_POINTS = 1800  # drawn of a strip


def picture(found: Found, model: Likeness | None, name: str) -> Picture:
    """Return strips of a typical stretch on one time axis: captured, fitted and modelled. name : of the file"""
    trace, fitted = found.trace, found.rise
    time = trace.time
    if fitted is not None:
        place = int(np.argsort(fitted.currents)[len(fitted.currents) // 2])
        middle = fitted.stretches[place].at.time
    else:
        place, middle = 0, found.breaks[len(found.breaks) // 2].time
    before, after = _window(found, place)
    first, last = np.searchsorted(time, (middle - before, middle + after))
    axis = Axis("time from the opening", "ms")
    thin = max(1, (last - first) // MOST_POINTS)
    when = 1e3 * (time[first:last:thin] - middle)
    strips = []
    lines: list[Line] = []
    marks = tuple(Mark(1e3 * (one.time - middle), None, "parts", "part", "current") for one in found.breaks
                  if -before <= one.time - middle < after)
    turn = 1.0
    if "current" in trace.values and fitted is not None:
        turn = float(np.sign(fitted.stretches[place].at.current))
        shown = turn * (trace.values["current"][first:last:thin] - found.zero)
        lines.append(Line("captured", "plain", when.tolist(), shown.tolist(), "dotted"))
        if model is not None:
            lines.append(_of_model(model, "current", when, "current", 1.0))
        stretch = fitted.stretches[place]
        grid = np.linspace(stretch.time[0], stretch.at.time, 300)
        lines.append(Line("fitted rise", "energy", (1e3 * (grid - middle)).tolist(), (turn * fitted.curve(place, grid)).tolist(),
                          "dashed"))
        strips.append(Chart("current", "Primary current", axis, Axis("current", "A"), tuple(lines), marks))
        rest = turn * (stretch.current - found.zero - fitted.curve(place, stretch.time))
        strips.append(Chart("residual", "Captured less fitted, while the contacts are closed", axis, Axis("current", "A"),
                            (Line("residual", "plain", (1e3 * (stretch.time - middle)).tolist(), rest.tolist()),)))
    for role, quantity, factor, unit in (("contact", "contact_voltage", 1.0, "V"), ("secondary", "secondary", 1e-3, "kV")):
        if role not in trace.values:
            continue
        values = turn * factor * trace.values[role][first:last:thin]
        lines = [Line("captured", "plain", when.tolist(), values.tolist(), "dotted")]
        if model is not None:
            lines.append(_of_model(model, f"{role}_voltage", when, quantity, factor))
        title = NAMES[role]
        strips.append(Chart(role, title[0].upper() + title[1:], axis, Axis("voltage", unit), tuple(lines)))
    sentence = "A typical opening of the capture"
    if fitted is not None:
        sentence += f": the current parts at {plus_minus(fitted.opening, 'A')}"
    said = f" {model.said}" if model is not None else ""
    return Picture(f"{sentence}.{said}", f"{name}: strips of {', '.join(strip.title.lower() for strip in strips)} around one "
                                         f"opening. {sentence}.{_agreement(found, model)}", _readings(found), tuple(strips))


def _window(found: Found, place: int) -> tuple[float, float]:
    """Return how much to show before and after the opening, s."""
    if found.kind == "magneto" and found.pulse is not None:
        return 0.75 * found.pulse.value, 0.45 * found.pulse.value
    gaps = np.diff([one.time for one in found.breaks])
    usual = float(np.median(gaps)) if len(gaps) else 3e-3
    return 1.1 * usual, 1.0 * usual


def _of_model(model: Likeness, strip: str, when: np.ndarray, quantity: str, factor: float) -> Line:
    """Return the model's own trace, laid so that its opening is at zero and its current upward."""
    run = model.run
    openings = first_openings(run)
    time, values = np.array(run.strips.time), np.array(getattr(run.strips, strip))
    if not openings or not len(time):
        return Line("model", quantity, [float(when[0]), float(when[-1])], [0.0, 0.0])
    chosen = openings[min(1, len(openings) - 1)]
    shifted = 1e3 * (time - chosen.time)
    part = (shifted >= when[0]) & (shifted <= when[-1])
    sign = float(np.sign(chosen.current)) or 1.0
    return Line("model", quantity, shifted[part].tolist(), (factor * sign * values[part]).tolist())


def _agreement(found: Found, model: Likeness | None) -> str:
    if model is None or found.rise is None:
        return ""
    outcome = read(model.run).opening_current
    if outcome.mean is None:
        return " The model's contacts do not part with these numbers."
    return f" The model parts at {outcome.mean:.2f} A."


def _readings(found: Found) -> tuple[Reading, ...]:
    made = []
    if found.rise is not None:
        made.append(Reading("opening current", plus_minus(found.rise.opening, "A"), found.rise.opening.value, "A"))
    for label, estimate, unit, factor in (("supply", found.supply, "V", 1.0), ("inductance", found.inductance, "mH", 1e3),
                                          ("resistance", found.resistance, "ohm", 1.0)):
        if estimate is not None:
            made.append(Reading(label, plus_minus(estimate, unit, factor), factor * estimate.value, unit))
    return tuple(made)


def save_picture(drawn: Picture, path: Path, text: str) -> None:
    """Write `drawn` to `path`, a new file: .png, .svg, .pdf, or .html with the card `text` beneath.

    Raises ValueError for another form, OSError where the file exists or cannot be written.
    """
    form = path.suffix.lower().lstrip(".")
    if form not in ("png", "svg", "pdf", "html"):
        raise ValueError(f"{path}: the picture's name must end in .png, .svg, .pdf or .html.")
    made = figure(drawn)
    out = io.BytesIO()
    made.savefig(out, format="png" if form == "html" else form, dpi=150)
    data = out.getvalue()
    if form == "html":
        text = "\n".join(line for line in text.splitlines() if not line or line.strip("="))  # a rule as wide as a desk's screen
        coded = base64.b64encode(data).decode("ascii")
        data = (f'<!doctype html>\n<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
                "<title>Scope capture</title>"
                "<style>body{font:16px sans-serif;margin:1rem auto;max-width:60rem;padding:0 .6rem}"
                "img{max-width:100%}pre{white-space:pre-wrap;overflow-wrap:anywhere;font-size:.85rem}</style>"
                f"<h1>Scope capture</h1><p>{html.escape(drawn.sentence)}</p>"
                f'<img alt="{html.escape(drawn.alt)}" src="data:image/png;base64,{coded}"><pre>{html.escape(text)}</pre></html>\n'
                ).encode()
    with path.open("xb") as file:
        file.write(data)

