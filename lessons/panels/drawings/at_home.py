"""How readings are taken at home: the bridge with what is held to it, drawn for the page *Every reading at home*.

Plain drawings, not panels: nothing moves. Each shows where something touches; what it is for, and the cautions, are the page's.
Bridge, rivet, blades and contacts are those of lesson 5's drawing, at the same scale up and down.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lessons.contracts import Drawing, DrawnPart, Note, Outline
from lessons.panels.drawings.bridge import BLADE, BUTTON, CONTACT, FACE, PANEL, PER_MM, PIN, from_the_side, places
from lessons.panels.drawings.outlines import arc, box, disc, shape, wire

_SCALE = "Up and down bridge, blades and contacts are to scale; lengths, thicknesses and what is held to them are not."
_START: dict[str, Any] = {control.symbol: control.start for control in PANEL.controls}
_STOP = FACE + PER_MM * _START["travel"]  # upper face of the cushion blade on its rivet


def _coil(where: str, down: float = 0.0, **badges: tuple[float, float]) -> tuple[dict[str, DrawnPart], float]:
    """Return the bridge's parts by word, and the upper face of the lower contact, in one of the panel's situations.

    All lies `down` units lower; `badges` puts the numbers of some parts elsewhere. Their sentences are lesson 5's and stay there.
    """
    values = _START | {"where": where}
    low, _ = places(values)
    at = {"bridge": (70.0, 20.0), "cushion_blade": (302.0, 120.0), **badges}
    leads = {"bridge": (70.0, FACE - 14.0)}
    parts = {}
    for part in from_the_side(values):
        x, y = at.get(part.word.replace(" ", "_"), part.number_at)
        to_x, to_y = leads.get(part.word, part.leads_to or part.number_at)
        parts[part.word] = replace(part, sentence="", number_at=(x, y + down), leads_to=(to_x, to_y + down),
                                   outlines=tuple(_down(outline, down) for outline in part.outlines))
    return parts, _STOP + BLADE + BUTTON + PER_MM * low + down


def _down(outline: Outline, by: float) -> Outline:
    return replace(outline, points=[value + by * (place % 2) for place, value in enumerate(outline.points)])


def _tool(word: str, sentence: str, number_at: tuple[float, float], *outlines: Outline,
          leads_to: tuple[float, float] | None = None) -> DrawnPart:
    return DrawnPart(word, sentence, outlines, number_at, leads_to)


def _ring(x: float, y: float, radius: float, fill: str = "clear") -> Outline:
    return disc(x, y, radius, fill)


def _balance(x: float, hook: float, way: float) -> tuple[Outline, ...]:
    """Return a spring balance whose hook is at (x, hook), its body drawn away from it: `way` -1 upward, 1 downward."""
    near, far = hook + 16.0 * way, hook + 92.0 * way
    top = min(near, far)
    return (box(x - 11, top, 22, 76), box(x - 4, top + 10, 8, 56, "clear"),
            wire(x - 4, (near + far) / 2.0, x + 4, (near + far) / 2.0), wire(x, hook, x, near),
            disc(x, far + 7.0 * way, 6, "clear"))


def discharge() -> Drawing:
    """Return the resistor across the contacts, held apart by a slip of card."""
    parts, lower = _coil("apart")
    under = lower + BUTTON + BLADE
    return Drawing("The discharge resistor, contacts held apart", 400.0, 262.0, (
        *parts.values(),
        _tool("slip of card", "Keeps the contacts apart, so that the resistor has the condenser to itself.", (128.0, 232.0),
              box(CONTACT - 30, _STOP + BLADE + BUTTON + 4, 62, 5, "clear"), leads_to=(152.0, _STOP + BLADE + BUTTON + 7)),
        _tool("discharge resistor", "On insulated leads, one on each side of the contacts: bridge and vibrator.", (384.0, 130.0),
              wire(270, FACE - 18, 270, 26, 345, 26, 345, 96), box(334, 96, 22, 64),
              wire(345, 160, 345, under + 34, 238, under + 34, 238, under), disc(270, FACE - 18, 4), disc(238, under, 4),
              leads_to=(356.0, 130.0)),
    ), (Note(330.0, 20.0, "bridge side", "middle"), Note(300.0, under + 28, "vibrator side", "middle")), _SCALE)


def drop_at_points() -> Drawing:
    """Return battery, lamp and ammeter in series with the closed contacts, and the voltmeter on the two blades."""
    parts, lower = _coil("rest")
    under, upper = lower + BUTTON + BLADE, _STOP + PER_MM * places(_START | {"where": "rest"})[1]
    return Drawing("The drop at closed contacts", 400.0, 300.0, (
        *parts.values(),
        _tool("battery, lamp and ammeter", "In series with the closed contacts, from the bridge to the vibrator: some amperes "
              "flow.", (384.0, 62.0), wire(276, FACE - 16, 276, 30, 360, 30, 360, 84), box(350, 84, 20, 6), box(345, 94, 30, 3),
              wire(360, 97, 360, 130), _ring(360, 146, 16), wire(349, 135, 371, 157), wire(371, 135, 349, 157),
              wire(360, 162, 360, 190), _ring(360, 206, 16), wire(360, 222, 360, 280, 58, 280, 58, FACE + 66 + BLADE),
              leads_to=(368.0, 86.0)),
        _tool("voltmeter", "Its leads on the two blades close to the contacts, so that it sees their drop and not that of the "
              "leads.", (302.0, 232.0), wire(206, upper, 206, upper - 8, 318, upper - 8, 318, 150), _ring(318, 168, 18),
              wire(318, 186, 318, 254, 206, 254, 206, under), disc(206, upper, 4), disc(206, under, 4), leads_to=(312.0, 186.0)),
    ), (Note(318.0, 173.0, "V"), Note(360.0, 211.0, "A")), _SCALE)


def parting_force() -> Drawing:
    """Return the balance that pulls the vibrator's free end square away from the cushion, and the lamp that tells."""
    parts, lower = _coil("rest", vibrator=(146.0, 226.0))
    under = lower + BUTTON + BLADE
    return Drawing("The parting force of the vibrator", 400.0, 330.0, (
        *parts.values(),
        _tool("spring balance", "On a loop of thread, as near to the contact as can be, pulled square to the blade until the "
              "lamp goes out.", (250.0, 240.0), wire(CONTACT + 24, under - 8, CONTACT + 24, under + 30),
              *_balance(CONTACT + 24, under + 30, 1.0), leads_to=(CONTACT + 34, 228.0)),
        _tool("lamp and battery", "Across the contacts: the lamp burns as long as they touch.", (384.0, 118.0),
              wire(276, FACE - 16, 276, 30, 345, 30, 345, 84), box(335, 84, 20, 6), box(330, 94, 30, 3),
              wire(345, 97, 345, 130), _ring(345, 146, 16), wire(334, 135, 356, 157), wire(356, 135, 334, 157),
              wire(345, 162, 345, 312, 58, 312, 58, FACE + 66 + BLADE), leads_to=(357.0, 134.0)),
    ), (), _SCALE)


def cushion_force() -> Drawing:
    """Return the balance that lifts the cushion blade off its rivet, and the leaf that comes loose."""
    parts, _ = _coil("apart", 110.0)
    top, leaf = _STOP + 110.0, _STOP + BLADE + 110.0
    return Drawing("The cushion's force on its rivet", 400.0, 330.0, (
        *parts.values(),
        _tool("spring balance", "A thread round the cushion blade at its contact, past both sides of the bridge, pulled straight "
              "up; the vibrator is held clear.", (CONTACT - 40, 50.0), wire(CONTACT, top + BLADE, CONTACT, 108, dashed=True),
              *_balance(CONTACT, 108.0, -1.0), leads_to=(CONTACT - 11, 50.0)),
        _tool("feeler leaf", "Between blade and rivet. The pull at which it comes loose is the cushion's force there.",
              (376.0, leaf + 40), box(PIN - 12, leaf - 1.5, 128, 3, "clear"), leads_to=(366.0, leaf + 1)),
    ), (), _SCALE)


def follow_travel() -> Drawing:
    """Return the feeler leaves between bridge and cushion blade, which sits on its rivet."""
    parts, _ = _coil("apart")
    return Drawing("The follow travel", 400.0, 232.0, (
        *parts.values(),
        _tool("feeler leaves", "Between the bridge and the cushion blade, which stands on its rivet by itself: one leaf that "
              "goes, and the next that does not.", (384.0, FACE + 40), box(118, FACE + 1.5, 270, _STOP - FACE - 3, "clear"),
              leads_to=(380.0, _STOP - 3)),
    ), (Note(398.0, FACE - 6, f"here {_START['travel']:.2f} mm", "end"),), _SCALE)


def counting() -> Drawing:
    """Return the gap behind its guard, the phone that listens and the loop of wire that may do so instead."""
    return Drawing("Counting sparks by ear of a phone, or by a loop", 400.0, 240.0, (
        _tool("coil", "Mounted as in the car, its secondary on a gap of known width.", (24.0, 122.0), box(14, 60, 84, 104),
              leads_to=(34.0, 122.0)),
        _tool("plug lead", "Carries the spark's current. Nobody touches it, and nothing is tied to it.", (176.0, 40.0),
              wire(98, 96, 130, 84, 180, 84, 230, 96), leads_to=(176.0, 84.0)),
        _tool("spark gap", "The only place where a spark may jump; its other side goes back to the coil.", (262.0, 196.0),
              shape(230, 92, 246, 96, 230, 100), shape(264, 96, 280, 92, 280, 100), wire(280, 96, 292, 96, 292, 150, 98, 150),
              leads_to=(255.0, 100.0)),
        _tool("guard", "Of insulating stuff, so that no hand can come near.", (300.0, 24.0),
              wire(212, 52, 300, 52, 300, 172, 212, 172, 212, 52, dashed=True), leads_to=(300.0, 52.0)),
        _tool("phone", "Beside the gap, half a metre off, connected to nothing: it hears each spark.", (384.0, 120.0),
              box(342, 70, 26, 56), box(345, 76, 20, 40, "clear"), leads_to=(368.0, 110.0)),
        _tool("loop of wire", "A hand's width from the lead, never touching it: it goes to a recorder's microphone input.",
              (128.0, 214.0), Outline(arc(150, 128, 14, 100, 440), "position", closed=False),
              wire(148, 142, 148, 192, 60, 192, fill="position"), wire(154, 142, 154, 198, 60, 198, fill="position"),
              leads_to=(150.0, 180.0)),
    ), (Note(104.0, 234.0, "to the microphone input", "middle"), Note(355.0, 144.0, "0.5 m off", "middle")),
        "Nothing is to scale.")


def bending() -> Drawing:
    """Return where a blade is bent and where it never is."""
    parts, lower = _coil("apart")
    tool = shape(62, FACE + 40, 84, FACE + 40, 84, FACE + 88, 88, FACE + 112, 58, FACE + 112, 62, FACE + 88,
                 fill="clear", pale=True)
    return Drawing("Where a blade is bent", 400.0, 250.0, (
        *parts.values(),
        _tool("flat pliers or slotted bar", "Near the clamp, over the whole width of the blade, a hair at a time, so that it "
              "does not twist.", (40.0, 232.0), tool, leads_to=(70.0, FACE + 108)),
        _tool("never here", "A blade bent at its contact or creased meets the other at an angle, and burns.", (300.0, 218.0),
              wire(CONTACT - 26, lower + BUTTON - 12, CONTACT + 26, lower + BUTTON + 26),
              wire(CONTACT + 26, lower + BUTTON - 12, CONTACT - 26, lower + BUTTON + 26),
              leads_to=(CONTACT + 24, lower + BUTTON + 24)),
    ), (), _SCALE)


DRAWINGS = {"discharge": discharge, "drop": drop_at_points, "parting": parting_force, "cushion": cushion_force,
            "travel": follow_travel, "counting": counting, "bending": bending}
"""Name in the page -> what draws it."""
