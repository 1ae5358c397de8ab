"""Lesson 0 opens on this: the box cut open. Its coil is drawn to the measure of the coil that lesson 2 winds."""

from __future__ import annotations

from lessons.contracts import Drawing, Note, Panel, Picture, Values
from lessons.panels.coil import AS_WOUND, wound
from lessons.panels.drawings.outlines import blade, box, part, parts_in_words, shape, wire

PER_MM = 2.1  # units of the drawing for each millimetre of the coil
AXIS, LID = 150.0, 122.0  # where the coil's axis stands, and the upper face of the lid


def drawing() -> Drawing:
    """Return the box cut open: contact set on the lid, coil and condenser inside, terminals and plug gap outside."""
    coil = wound(AS_WOUND)
    core, long = PER_MM * AS_WOUND["core"], PER_MM * AS_WOUND["length"]
    top = LID - 10.0
    foot, left, right = top + long, AXIS - core / 2.0, AXIS + core / 2.0
    inside, outside = PER_MM * 1e3 * coil.primary.outer_diameter / 2.0, PER_MM * 1e3 * coil.secondary.outer_diameter / 2.0
    bare = PER_MM * 1e3 * coil.secondary.inner_diameter / 2.0
    first = PER_MM * 1e3 * coil.primary.length
    upper = foot - 4.0 - first  # the primary's upper end
    middle, half = upper + first / 2.0, PER_MM * 1e3 * coil.secondary.length / 2.0
    layers = [wire(x, upper, x, upper + first, fill="current") for x in (AXIS - inside + 1.6, AXIS + inside - 1.6)]
    fine = [wire(x, middle - half, x, middle + half, fill="secondary") for side in (-1.0, 1.0) for i in range(1, 6)
            for x in (AXIS + side * (bare + (outside - bare) * i / 6.0),)]
    parts = (
        part("box", (384.0, 340.0), shape(
            62, LID, left - 4, LID, left - 4, LID + 12, 74, LID + 12, 74, LID + 230, 300, LID + 230, 300, LID + 12,
            right + 4, LID + 12, right + 4, LID, 312, LID, 312, LID + 242, 62, LID + 242), leads_to=(308.0, 340.0)),
        part("filling", (22.0, 296.0), box(74, LID + 12, 226, 218, "plain", True), leads_to=(84.0, 296.0)),
        part("terminals", (170.0, 390.0), box(91, LID + 242, 8, 20), box(40, 330, 22, 8), box(312, 196, 20, 8),
             wire(62, 58, 52, 58, 52, 330), leads_to=(99.0, 378.0)),
        part("condenser", (258.0, 246.0), wire(258, 178, 258, LID + 17, 80, LID + 17), wire(258, 312, 258, 334, 62, 334),
             box(234, 178, 48, 134, "contact_voltage", True),
             *(wire(240 + 6 * i, 178 + (8 if i % 2 else 0), 240 + 6 * i, 312 - (0 if i % 2 else 8), fill="contact_voltage")
               for i in range(7))),
        part("plug gap", (384.0, 250.0), wire(332, 200, 352, 200, 352, 224), box(348, 224, 8, 18), box(348, 258, 8, 18),
             wire(352, 276, 352, 290), wire(340, 290, 364, 290), wire(345, 295, 359, 295), leads_to=(356.0, 240.0)),
        part("core", (22.0, 150.0), box(left, top, core, long),
             *(wire(left + core * i / 6.0, top + 3, left + core * i / 6.0, foot - 3) for i in range(1, 6)),
             leads_to=(left + 3.0, 150.0)),
        part("primary", (22.0, 186.0), box(AXIS - inside, upper, inside - core / 2.0, first, "current", True),
             box(right, upper, inside - core / 2.0, first, "current", True), *layers,
             wire(AXIS - inside, upper + 6, 80, upper + 6, 80, LID + 17, 80, LID - 2, fill="current"),
             wire(AXIS - inside, upper + first - 4, 95, upper + first - 4, 95, LID + 242, fill="current"),
             leads_to=(AXIS - inside + 1.0, 186.0)),
        part("secondary", (22.0, 222.0), box(AXIS - outside, middle - half, outside - bare, 2 * half, "secondary", True),
             box(AXIS + bare, middle - half, outside - bare, 2 * half, "secondary", True), *fine,
             wire(AXIS + outside - 3, middle - half, AXIS + outside - 3, 158, 292, 158, 292, 200, 312, 200, fill="secondary"),
             leads_to=(AXIS - outside + 2.0, 222.0)),
        part("vibrator", (278.0, 104.0), box(62, 86, 14, LID - 86), blade((76, 90), 120, (190, 90), 7, "position"),
             box(AXIS - 18, 97, 36, 6), leads_to=(189.0, 94.0)),
        part("contacts", (22.0, 80.0), box(AXIS - 10, 70, 20, 10, "cushion"), box(AXIS - 10, 80, 20, 10, "position"),
             leads_to=(AXIS - 11.0, 80.0)),
        part("cushion blade", (290.0, 66.0), blade((76, 63), 120, (236, 63), 7, "cushion"), leads_to=(236.0, 66.0)),
        part("limit rivet", (215.0, 22.0), box(212, 47, 6, 32), box(206, 45, 18, 6),
             shape(205, 79, 225, 79, 222, 86, 208, 86), leads_to=(215.0, 46.0)),
        part("bridge", (110.0, 22.0), box(62, 51, 14, 24), box(76, 51, 136, 12), box(218, 51, 16, 12),
             box(62, 75, 14, 11, "clear"), leads_to=(110.0, 53.0)),
    )
    return Drawing(
        "The box, cut open", 400.0, 404.0, parts, (Note(352.0, 312.0, "plug gap"),),
        "Core and windings are drawn to one scale, those of the coil that lesson 2 winds; the contact set is enlarged, and "
        "nothing in it is to scale.",
    )


def picture(values: Values) -> Picture:
    """Return the box's picture; there are no `values` to set."""
    drawn = drawing()
    return Picture(
        "A core with two windings pulls at the contact set on the lid; the condenser lies across the contacts.",
        f"{parts_in_words(drawn)} On the lid, from above: the bridge, the cushion blade with the upper contact, the "
        "vibrator with the lower contact. The core stands under the vibrator, wound with the primary and, over that, the "
        "secondary. The condenser stands beside it, and the filling holds both. Two terminals are for the primary's "
        "current; the third leads from the secondary to the plug gap.",
        drawing=drawn,
    )


PANEL = Panel(
    "box_open", "The box, cut open", "Which part in here moves first?", (), compute=picture,
)
