"""Lesson 5: the bridge with its rivet and the cushion blade, from the side and from above; heights from the model, to scale."""

from __future__ import annotations

from dataclasses import replace

from coilmodel.run import resting_place
from lessons.contracts import Choice, Drawing, DrawnPart, Note, Outline, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.cushion import PRELOAD_CONTROL, STIFFNESS_CONTROL, TRAVEL_CONTROL, machine
from lessons.panels.drawings.outlines import blade, box, disc, part, parts_in_words, shape, wire

PER_MM = 96.0  # units of the drawing for each millimetre up and down
FACE = 62.0  # the bridge's lower face
BUTTON, BLADE, CONTACT, PIN, TIP = 14.0, 9.0, 180.0, 256.0, 292.0

PLACES = (("rest", "at rest"), ("rivet", "on the rivet"), ("apart", "contacts apart"))


def places(values: Values) -> tuple[float, float]:
    """Return the heights (mm, downward from the rivet position) of lower and upper contact in the situation of `values`."""
    m = machine(values)
    lower, upper = resting_place(m)
    if values["where"] == "rest":
        return 1e3 * lower, 1e3 * upper
    return (0.0, 0.0) if values["where"] == "rivet" else (1e3 * m.vibrator.stop, 0.0)


def from_the_side(values: Values) -> tuple[DrawnPart, ...]:
    """Return vibrator, cushion blade, bridge, limit rivet and contacts from the side; `values` are those of the panel."""
    travel = PER_MM * values["travel"]
    low, high = places(values)
    upper = FACE + travel + PER_MM * high  # the cushion blade's upper face
    meet = FACE + travel + BLADE + BUTTON  # where the contacts' faces meet on the rivet
    lower = meet + PER_MM * low
    head = FACE + travel + BLADE
    return (
        part("vibrator", (226.0, 198.0), blade((52, FACE + 66), 130, (TIP - 40, lower + BUTTON), BLADE, "position"),
             leads_to=(226.0, lower + BUTTON + BLADE - 2.0)),
        part("cushion blade", (378.0, 150.0), blade((52, FACE + 0.4 * travel), 130, (TIP, upper), BLADE, "cushion"),
             leads_to=(TIP - 2.0, upper + BLADE / 2.0)),
        part("bridge", (110.0, 20.0), box(30, FACE - 16, 22, 150), box(52, FACE - 16, PIN + 24 - 52, 16),
             leads_to=(110.0, FACE - 14.0)),
        part("limit rivet", (PIN, 20.0), box(PIN - 4, FACE - 20, 8, head - FACE + 20), box(PIN - 12, FACE - 22, 24, 6),
             shape(PIN - 14, head, PIN + 14, head, PIN + 10, head + 10, PIN - 10, head + 10),
             leads_to=(PIN, FACE - 20.0)),
        part("contacts", (90.0, 198.0), box(CONTACT - 16, upper + BLADE, 32, BUTTON, "cushion"),
             box(CONTACT - 16, lower, 32, BUTTON, "position"), leads_to=(CONTACT - 15.0, upper + BLADE + BUTTON - 2.0)),
    )


def drawing(values: Values) -> Drawing:
    """Return bridge, rivet and cushion blade from the side and from above; `values` are those of the panel."""
    above = 322.0  # the middle of the view from above
    seen = {
        "cushion blade": (box(52, above - 30, TIP - 52, 60, "cushion", True),),
        "bridge": (box(30, above - 40, 30, 80), box(60, above - 14, PIN - 36, 28), disc(45, above - 22, 6, "clear"),
                   disc(45, above + 22, 6, "clear")),
        "limit rivet": (disc(PIN, above, 10),),
        "contacts": (wire(*_round(CONTACT, above, 13), fill="cushion", dashed=True),),
    }
    drawn = tuple(replace(one, outlines=(*one.outlines, *seen.get(one.word, ()))) for one in from_the_side(values))
    arrow = [Note(398.0, FACE - 4.0, f"travel {values['travel']:.2f} mm", "end")]
    return Drawing(
        "Bridge, rivet and cushion blade", 400.0, 392.0, drawn,
        (Note(172.0, 244.0, "from the side"), Note(172.0, 384.0, "from above"), *arrow),
        "Up and down the view from the side is to scale, lengths and thicknesses are not.",
    )


def _round(x: float, y: float, radius: float) -> list[float]:
    points: Outline = disc(x, y, radius)
    return [*points.points, *points.points[:2]]


def picture(values: Values) -> Picture:
    """Return the drawing, and what holds the blade where it is."""
    drawn = drawing(values)
    on_bridge = values["preload"] + values["stiffness"] * values["travel"]
    low, high = places(values)
    if values["where"] == "rest":
        free = values["travel"] + high
        now = "the vibrator presses the pair up against the bridge"
        if free >= 0.005:
            now = f"the cushion wins: the pair hangs {free:.2f} mm below the bridge"
        push = values["preload"] + values["stiffness"] * (values["travel"] - free)
        what = f"At rest {now}. Bent up so far, the cushion blade pushes down with {push:.2f} N."
    elif values["where"] == "rivet":
        what = (f"The pair has come down {values['travel']:.2f} mm, still closed, and the rivet has just caught the cushion "
                f"blade, which sits on it with {values['preload']:.2f} N.")
    else:
        what = f"The rivet holds the upper contact, and the lower one has gone on to the core: {low - high:.2f} mm apart."
    return Picture(what, f"{parts_in_words(drawn)} Two views: from the side the bridge lies above the cushion blade, and "
                         "the rivet hangs from it through a hole in the blade, its head below; from above the bridge is "
                         f"the narrow bar over the broad blade. {what}", (
        Reading("Travel, bridge to rivet", parts.number(values["travel"], "mm"), values["travel"], "mm"),
        Reading("Cushion's push at the bridge", parts.number(on_bridge, "N", 3), on_bridge, "N"),
        Reading("Cushion's push on the rivet", parts.number(values["preload"], "N", 3), values["preload"], "N"),
        Reading("Contacts apart by", parts.number(low - high if values["where"] == "apart" else 0.0, "mm"),
                low - high if values["where"] == "apart" else 0.0, "mm"),
    ), drawing=drawn)


PANEL = Panel(
    "bridge_views", "The bridge, its rivet, and the blade between",
    "The rivet's head is below the blade. Which way, up or down, does it stop the blade?",
    (Choice("where", "The contacts are", PLACES, "rest", "Three moments of one pulse: before, at the parting, and after."),
     TRAVEL_CONTROL, PRELOAD_CONTROL, STIFFNESS_CONTROL),
    compute=picture,
    presets=(
        Preset("At rest", {}, "No current: the vibrator, which is the stronger, presses both contacts and the blade up "
                              "against the bridge."),
        Preset("On the rivet", {"where": "rivet"}, "The core has drawn the pair down. The rivet's head catches the blade: "
                                                   "the upper contact stops here, the lower one does not."),
        Preset("Apart", {"where": "apart"}, "Now the lower contact has left. How far the upper one may travel first is "
                                            "the gap that you see between bridge and blade."),
    ),
)
