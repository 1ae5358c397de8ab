"""Lesson 2: the coil in section, as the sliders wind it: to one scale, and a piece of the windings enlarged."""

from __future__ import annotations

from coilmodel.winding import Winding, WoundCoil
from lessons.contracts import Drawing, Note, Outline, Panel, Picture, Preset, Reading, Values
from lessons.panels import coil as lesson
from lessons.panels import parts
from lessons.panels.drawings.outlines import arc, box, disc, part, parts_in_words, span, wire

PER_MM = 2.2  # units of the drawing for each millimetre, so that the longest core just fits
MIDDLE, AXIS = 200.0, 104.0
CUT_LEFT, CUT_TOP, CUT_WIDE, CUT_HIGH = 110.0, 214.0, 190.0, 178.0  # where the enlarged piece stands


def _halves(inner: float, outer: float, long: float, fill: str) -> list[Outline]:
    """Return a winding's two cut faces, above and below the axis; diameters and length in mm."""
    near, far, half = PER_MM * inner / 2.0, PER_MM * outer / 2.0, PER_MM * long / 2.0
    return [box(MIDDLE - half, AXIS - far, 2.0 * half, far - near, fill, True),
            box(MIDDLE - half, AXIS + near, 2.0 * half, far - near, fill, True)]


def _cut(winding: Winding, fill: str) -> list[Outline]:
    """Return a winding's two cut faces."""
    return _halves(1e3 * winding.inner_diameter, 1e3 * winding.outer_diameter, 1e3 * winding.length, fill)


def _flux(core: float, long: float, outer: float) -> list[Outline]:
    """Return lines of flux: through the core and back through the air, two above and two below; lengths in mm."""
    lines = []
    for side in (-1.0, 1.0):
        for number in (1, 2):
            y, half = AXIS + side * PER_MM * core * 0.16 * number, PER_MM * long / 2.0 + 3.0 * number
            reach = min(PER_MM * outer / 2.0 + 8.0 + 12.0 * number, AXIS - 16.0 + 6.0 * number)
            back = arc(MIDDLE, y, half, 0.0, side * 180.0, reach - abs(y - AXIS))
            lines.append(wire(MIDDLE - half, y, *back, fill="force", dashed=True))
    return lines


def _on_flux(long: float, core: float, outer: float) -> tuple[float, float]:
    """Return a place on the outer line of flux, up on the left."""
    x, y = _flux(core, long, outer)[1].points[2::2], _flux(core, long, outer)[1].points[3::2]
    place = 2 * len(x) // 3
    return x[place], y[place]


def _enlarged(coil: WoundCoil, core: float) -> tuple[dict[str, list[Outline]], float]:
    """Return the outlines of a piece of the upper windings, by part, and its units for each millimetre."""
    top, foot = 1e3 * coil.secondary.outer_diameter / 2.0, core / 2.0
    scale = CUT_HIGH / (top - foot + 1.0)
    radii = {
        "top": top, "secondary": 1e3 * coil.secondary.inner_diameter / 2.0, "wound": 1e3 * coil.primary.outer_diameter / 2.0,
        "primary": 1e3 * coil.primary.inner_diameter / 2.0, "core": foot,
    }
    height = {name: CUT_TOP + CUT_HIGH - scale * (r - foot + 1.0) for name, r in radii.items()}
    wires = []
    pitch = 1e3 * coil.primary.length / coil.primary.turns_per_layer
    deep = (height["primary"] - height["wound"]) / coil.primary.layers
    radius = 0.46 * min(scale * pitch, deep)
    for layer in range(coil.primary.layers):
        y = height["primary"] - (layer + 0.5) * deep
        count = int(CUT_WIDE / (scale * pitch))
        wires += [disc(CUT_LEFT + CUT_WIDE / 2.0 + (i + 0.5 - count / 2.0) * scale * pitch, y, radius, "current")
                  for i in range(count)]
    thick = (height["secondary"] - height["top"]) / coil.secondary.layers
    lines = [wire(CUT_LEFT, height["secondary"] - (i + 0.5) * thick, CUT_LEFT + CUT_WIDE, height["secondary"] - (i + 0.5) * thick,
                  fill="secondary") for i in range(coil.secondary.layers)]
    return {
        "core": [box(CUT_LEFT, height["core"], CUT_WIDE, CUT_TOP + CUT_HIGH - height["core"])],
        "insulation": [box(CUT_LEFT, height["wound"], CUT_WIDE, height["core"] - height["wound"], "clear"),
                       box(CUT_LEFT, height["secondary"], CUT_WIDE, height["wound"] - height["secondary"], "plain", True)],
        "primary": wires,
        "secondary": [box(CUT_LEFT, height["top"], CUT_WIDE, height["secondary"] - height["top"], "secondary", True), *lines],
    }, scale


def drawing(values: Values) -> Drawing:
    """Return the coil of `values` (those of the panel coil_winding) in section, and a piece of its windings enlarged."""
    coil, core, long = lesson.wound(values), values["core"], values["length"]
    first, second = coil.primary, coil.secondary
    half, thick = PER_MM * long / 2.0, PER_MM * core / 2.0
    close, scale = _enlarged(coil, core)
    tube = _halves(1e3 * first.outer_diameter, 1e3 * second.inner_diameter, 1e3 * first.length, "plain")
    strands = [wire(MIDDLE - half, AXIS - thick + 2 * thick * i / 6.0, MIDDLE + half, AXIS - thick + 2 * thick * i / 6.0)
               for i in range(1, 6)]
    cut, piece = CUT_WIDE / scale * PER_MM / 2.0, CUT_HIGH / scale * PER_MM  # the enlarged piece, where it is cut out
    upper = AXIS - thick + 1.0 * PER_MM - piece
    frame = wire(MIDDLE - cut, upper, MIDDLE + cut, upper, MIDDLE + cut, upper + piece, MIDDLE - cut, upper + piece,
                 MIDDLE - cut, upper)
    left, top, right, low = span(close["primary"][0].points)
    high = span(close["secondary"][0].points)[3]
    drawn = (
        part("core", (34.0, 372.0), box(MIDDLE - half, AXIS - thick, 2 * half, 2 * thick), *strands, *close["core"],
             leads_to=(CUT_LEFT + 4.0, CUT_TOP + CUT_HIGH - 0.5 * scale)),
        part("insulation", (366.0, 330.0), *tube, *close["insulation"],
             leads_to=(CUT_LEFT + CUT_WIDE - 4.0, CUT_TOP + CUT_HIGH - scale
                       * (1.0 + 0.25e3 * (first.outer_diameter + second.inner_diameter) - core / 2.0))),
        part("primary", (34.0, 320.0), *_cut(first, "current"), *close["primary"],
             leads_to=((left + right) / 2.0, (top + low) / 2.0)),
        part("secondary", (34.0, 250.0), *_cut(second, "secondary"), *close["secondary"], frame,
             leads_to=(CUT_LEFT + 4.0, CUT_TOP + min(24.0, 0.5 * (high - CUT_TOP)))),
        part("flux", (60.0, 16.0), *_flux(core, long, 1e3 * second.outer_diameter),
             leads_to=_on_flux(long, core, 1e3 * second.outer_diameter)),
    )
    return Drawing(
        "The coil in section", 400.0, 416.0, drawn,
        (Note(CUT_LEFT + CUT_WIDE / 2.0, CUT_TOP + CUT_HIGH + 16.0, "the piece in the frame, enlarged "
                                                                    f"{scale / PER_MM:.0f} times"),),
        f"Drawn to one scale, {long:.0f} mm from end to end; the piece below is a little of the windings above the core, "
        f"{scale / PER_MM:.0f} times as large. Of the secondary only its layers are drawn: each is a row of turns too fine "
        "to see.",
    )


def picture(values: Values) -> Picture:
    """Return the coil's section, and what is in it in words."""
    coil, drawn = lesson.wound(values), drawing(values)
    first, second = coil.primary, coil.secondary
    sentence = (
        f"On a core of {values['core']:.0f} by {values['length']:.0f} mm lie {first.turns} turns of "
        f"{values['primary_wire']:.2f} mm wire in {first.layers} layers, and over them {second.turns} turns of "
        f"{values['secondary_wire']:.3f} mm in {second.layers} layers: {second.wire_length / 1e3:.1f} km of wire."
    )
    return Picture(sentence, f"{parts_in_words(drawn)} {sentence} The flux goes through the core and comes back through "
                             "the air.", (
        Reading("Turns in a layer of the primary", f"{first.turns_per_layer}", float(first.turns_per_layer), "1"),
        Reading("Turns in a layer of the secondary", f"{second.turns_per_layer}", float(second.turns_per_layer), "1"),
        Reading("Wire on the primary", parts.number(first.wire_length, "m", 3), first.wire_length, "m"),
        Reading("Wire on the secondary", parts.number(second.wire_length, "m", 3), second.wire_length, "m"),
        Reading("Outside diameter", parts.number(1e3 * second.outer_diameter, "mm", 3), 1e3 * second.outer_diameter, "mm"),
    ), drawing=drawn)


PANEL = Panel(
    "coil_section", "What is wound on the core", "How long is the wire of the secondary: metres, or more than a kilometre?",
    (lesson.SECONDARY_CONTROL, lesson.SECONDARY_WIRE_CONTROL, lesson.PRIMARY_CONTROL, lesson.PRIMARY_WIRE_CONTROL,
     lesson.CORE_CONTROL, lesson.LENGTH_CONTROL),
    compute=picture,
    presets=(
        Preset("As wound", {}, "Few turns of thick wire inside, thousands of fine wire over them, and the iron inside both."),
        Preset("Twice the core", {"core": 20.0}, "A thicker core carries more flux, and every turn round it takes more wire."),
        Preset("A short core", {"length": 70.0}, "The same turns on less length need more layers, and the outer ones lie "
                                                 "further from the iron."),
    ),
)
