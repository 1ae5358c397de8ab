"""A hand at the workbench of lesson 9 that reasons as the lesson teaches: from what the looks told, and from nothing else.

It sees `Entry` objects, whose words and numbers are what stands in the log. It keeps to the lesson's order: a run first, then the
looks that it calls for, a reading before each bend, one piece of work a line, and the whole range last.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lessons.panels.workbench import LINES, Entry, Seen

LOOK = {"magneto": "swap", "condenser": "condenser", "points": "drop", "winding": "bridge", "vibrator": "vibrator force",
        "cushion": "cushion force", "travel": "gauge"}
WORK = {"magneto": "mend magneto", "condenser": "new condenser", "points": "dress points", "winding": "new winding",
        "travel": "set travel"}
MUCH, LITTLE = {"vibrator": 0.75, "cushion": 0.6}, {"vibrator": 0.15, "cushion": 0.06}  # N, as the buttons say

Bench = Callable[[Sequence[str]], Sequence[Entry]]
"""Does the lines on the coil and returns its log."""


def suspects(hand: Seen, road: Seen, good_hand: Seen, good_road: Seen) -> list[str]:
    """Return the parts in the order in which the lesson's table of looks suspects them, those that it does not name last."""
    order: list[str] = []
    low = road.current is None or road.current < 0.95 * good_road.current
    if hand.current is None:  # fails slow: magneto or points, and a current that is not low besides: the vibrator
        order += ["magneto", "points"] if low else ["points", "magneto", "vibrator"]
    elif hand.current < 0.94 * good_hand.current:  # current low by hand, and yet it parts: springs and travel
        order += ["travel", "cushion"] if road.sparks > 1.0 else []
        order += ["vibrator", "cushion", "travel"]
    if road.current and road.current > 1.06 * good_road.current:
        order += ["vibrator"]
    if road.points != "dark":  # a flash at every speed: the condenser; one that grows with speed: a slack cushion
        order += ["condenser"] if hand.points == "flash" and hand.spark != "full" else ["cushion"]
        order += ["cushion", "condenser"]
    elif road.spark != "full":
        order += ["condenser", "winding"]
    order += ["cushion", "condenser", "vibrator", "points", "magneto", "travel", "winding"]
    return list(dict.fromkeys(order))


def work_for(entry: Entry) -> str:
    """Return the piece of work that a look calls for."""
    part = entry.tool.part
    if part in WORK:
        return WORK[part]
    way = entry.usual - entry.found
    size = "much" if abs(way) > 0.5 * (MUCH[part] + LITTLE[part]) else "little"
    return f"bend {part} {'up' if way > 0.0 else 'down'} {size}"


def lines_for(bench: Bench, good_hand: Seen, good_road: Seen) -> list[str]:
    """Return the lines that this hand writes on a coil's sheet."""
    lines: list[str] = []

    def do(key: str) -> Entry:
        lines.append(key)
        return bench(lines)[-1]

    looked: set[str] = set()
    bent = ""
    ran = do("run")
    while ran.unwell and len(lines) < LINES:
        hand, road = ran.by_hand, ran.seen
        order = suspects(hand, road, good_hand, good_road)
        if bent and same(road, good_road) and len(ran.unwell) <= 2:  # nearly there: the first bend is never the last
            order = [bent, *order]
        for part in [part for part in dict.fromkeys(order) if part not in looked]:
            entry = do(LOOK[part])
            looked.add(part)
            if entry.off:
                do(work_for(entry))
                bent = part if part in MUCH else ""
                looked -= {bent}  # a bend loses the reading
                break
        ran = do("run")
    return lines


def same(here: Seen, good: Seen) -> bool:
    """Whether a run looks like a good coil's, a tenth of an ampere or two aside."""
    near = here.current is not None and abs(here.current / good.current - 1.0) < 0.06
    return near and (here.sparks, here.spark, here.points) == (good.sparks, good.spark, good.points)
