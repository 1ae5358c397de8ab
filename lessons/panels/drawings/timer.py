"""Lesson 8: the timer. A roller goes round at half the crank's speed and meets a segment for each coil; a lever turns them."""

from __future__ import annotations

from lessons.contracts import Control, Drawing, Note, Panel, Picture, Preset, Reading, Values
from lessons.panels.car import FIRING_ORDER, LEVER_CONTROL, WIDTH_CONTROL, from_top
from lessons.panels.drawings.outlines import arc, disc, part, parts_in_words, polar, ring, sector, shape, wire

X, Y = 200.0, 190.0
BETWEEN = 720.0 / len(FIRING_ORDER)  # degrees of crank from one cylinder's top to the next one's
UP = -90.0  # the drawing's angle at which Alder's segment stands with its lever at nought

CRANK_CONTROL = Control("crank", "Crank angle, from Alder's top", "degrees", -90.0, 630.0, 1.0, -25.0,
                        "Two turns of the crank are one of the timer: in them each cylinder has its window once.")


def touched(values: Values) -> str | None:
    """Return the coil whose segment the roller is on, or None. `values`: crank, lever and width of the window, in degrees."""
    for place, name in enumerate(FIRING_ORDER):
        after = (values["crank"] - place * BETWEEN - values["lever"]) % 720.0
        if after < values["width"]:
            return name
    return None


def drawing(values: Values) -> Drawing:
    """Return the timer, seen along its shaft, at a crank angle and a place of the lever; `values` are those of the panel."""
    shift, wide = values["lever"] / 2.0, values["width"] / 2.0
    starts = {name: UP + shift + place * BETWEEN / 2.0 for place, name in enumerate(FIRING_ORDER)}
    on = touched(values)
    roller = UP + values["crank"] / 2.0
    hues = {name: "current" if name == on else "steel" for name in starts}
    segments = [sector(X, Y, 112, 128, start, start + wide, hues[name]) for name, start in starts.items()]
    studs = [wire(*polar(X, Y, 128, start + wide / 2.0), *polar(X, Y, 160, start + wide / 2.0), fill=hues[name])
             for name, start in starts.items()]
    names = [Note(x, y + 4.0, name) for name, start in starts.items() for x, y in [polar(X, Y, 174, start + wide / 2.0)]]
    handle = UP + shift + 150.0
    first = starts[FIRING_ORDER[0]]
    left, right = polar(X, Y, 9, roller - 90.0), polar(X, Y, 9, roller + 90.0)
    tip, badge = polar(X, Y, 98, roller), polar(X, Y, 62, roller + 150.0)
    way = arc(X, Y, 40, roller + 190.0, roller + 290.0)
    windows = [shape(X, Y, *arc(X, Y, 112, start, start + wide), fill="force", pale=True) for start in starts.values()]
    return Drawing(
        "The timer, seen along its shaft", 400.0, 404.0,
        (
            part("timer", (34.0, 320.0), *ring(X, Y, 118, 148, "plain", True), leads_to=polar(X, Y, 138, 145)),
            part("window", (366.0, 84.0), *windows, leads_to=polar(X, Y, 92, first + wide - 1.0)),
            part("segment", (34.0, 84.0), *segments, *studs, leads_to=polar(X, Y, 122, starts[FIRING_ORDER[-1]] + wide / 2.0)),
            part("lever", (366.0, 376.0), shape(*polar(X, Y, 148, handle - 3.0), *polar(X, Y, 148, handle + 3.0),
                                                *polar(X, Y, 190, handle + 2.0), *polar(X, Y, 190, handle - 2.0)),
                 disc(*polar(X, Y, 196, handle), 8, "plain"), leads_to=polar(X, Y, 186, handle)),
            part("roller", badge, shape(*left, *tip, *right), disc(*tip, 13, "current" if on else "steel"), disc(X, Y, 16),
                 wire(*way, *polar(X, Y, 33, roller + 278.0)),
                 wire(*polar(X, Y, 40, roller + 290.0), *polar(X, Y, 47, roller + 278.0)),
                 leads_to=polar(X, Y, 15, roller + 150.0)),
        ),
        (*names,),
        "Angles are to scale: the roller goes round clockwise, half as far as the crank. Sizes are not to scale.",
    )


def picture(values: Values) -> Picture:
    """Return the timer with its roller and segments, and whose window is open."""
    drawn, on = drawing(values), touched(values)
    where = from_top(values["lever"])
    if on is None:
        now = "The roller is between two segments: no coil has current"
    else:
        own = (values["crank"] - FIRING_ORDER.index(on) * BETWEEN + 360.0) % 720.0 - 360.0
        now = f"The roller is on {on}'s segment, {from_top(own)} of its own cylinder: {on} alone has the magneto's current"
    sentence = f"{now}. With the lever here every window begins {where} and lasts {values['width']:.0f} degrees of crank."
    return Picture(sentence, f"{parts_in_words(drawn)} Segments in the order of firing, clockwise: "
                             f"{', '.join(FIRING_ORDER)}. {sentence}", (
        Reading("The roller is on", on or "no segment"),
        Reading("Window begins", where, values["lever"], "degrees"),
        Reading("Window on the timer itself", f"{values['width'] / 2.0:.1f} degrees", values["width"] / 2.0, "degrees"),
    ), drawing=drawn)


PANEL = Panel(
    "timer_parts", "The timer: roller, segments, window",
    "You pull the lever to a later place. What moves in the timer: the roller, the segments, or both?",
    (CRANK_CONTROL, LEVER_CONTROL, WIDTH_CONTROL),
    compute=picture,
    presets=(
        Preset("Alder's window", {}, "The roller is on Alder's segment: its window is open, and no other coil's."),
        Preset("Between two", {"crank": 60.0}, "On no segment: no coil has current, whatever the magneto gives."),
        Preset("Lever later", {"lever": 0.0}, "The segments have turned on, the roller has not: with the crank where it "
                                              "was, Alder's window has yet to come."),
        Preset("Next in the order", {"crank": -25.0 + BETWEEN}, "Half a turn of the crank later, a quarter of the timer: "
                                                                "Birch's turn."),
    ),
)
