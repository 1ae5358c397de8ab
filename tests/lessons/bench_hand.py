"""A hand at the workbench of lesson 9 that reasons as the lesson teaches: from what the looks told, and from nothing else.

It sees `Entry` objects, whose words and numbers are what stands in the log. It keeps to the lesson's order: a run first, then the
looks that it calls for, a reading before each bend, one piece of work a line, and the whole range last. Below it stand hands that
do not reason: the looks in a fixed order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass

from lessons.panels.workbench import IN_VAIN, LINES, Entry, Seen

LOOK = {"magneto": "swap", "condenser": "condenser", "points": "drop", "winding": "bridge", "vibrator": "vibrator force",
        "cushion": "cushion force", "travel": "gauge"}
WORK = {"magneto": "mend magneto", "condenser": "new condenser", "points": "dress points", "winding": "new winding",
        "travel": "set travel"}
MUCH, LITTLE = {"vibrator": 0.75, "cushion": 0.6}, {"vibrator": 0.15, "cushion": 0.06}  # N, as the buttons say

Bench = Callable[[Sequence[str]], Sequence[Entry]]
"""Does the lines on the coil and returns its log."""


def suspects(ran: Entry, good: Entry) -> list[str]:
    """Return the parts in the order in which the lesson's table suspects them from one run, those that it does not name last."""
    hand, road, fast = ran.by_hand, ran.seen, ran.fast
    order: list[str] = []
    if hand.current is None:  # fails by hand: the magneto or the points; the good coil in its place tells which
        order += ["magneto", "points"]
    elif road.points == "flash":  # with a weak spark by hand, too: a small condenser; with a full one: a slack cushion
        order += ["condenser"] if hand.points == "flash" and hand.spark != "full" else ["cushion", "condenser"]
    elif hand.current < 0.74 * good.by_hand.current and hand.sparks <= 1.0:  # far too low, no spark twice: no spring
        order += ["magneto", "points"]
    elif hand.current < 0.94 * good.by_hand.current:  # low: fires twice and more fast, too: the travel; else a spring
        order += ["travel"] if fast.sparks > 1.0 else []
        order += ["cushion", "vibrator"] if hand.sparks > 1.0 and hand.spark != "full" else ["vibrator", "cushion"]
    elif road.current and road.current > 1.06 * good.seen.current:  # high at every speed
        order += ["vibrator"]
    elif road.spark != "full":  # weak at the right current: the condenser, or, where the current runs high when fast, the winding
        turns = hand.spark == "none" or fast.current > 1.03 * good.fast.current
        order += ["winding", "condenser"] if turns else ["condenser", "winding"]
    order += ["cushion", "condenser", "vibrator", "magneto", "points", "travel", "winding"]
    return list(dict.fromkeys(order))


def work_for(entry: Entry) -> str:
    """Return the piece of work that a look calls for."""
    part = entry.tool.part
    if part in WORK:
        return WORK[part]
    way = entry.usual - entry.found
    size = "much" if abs(way) > 0.5 * (MUCH[part] + LITTLE[part]) else "little"
    return f"bend {part} {'up' if way > 0.0 else 'down'} {size}"


def lines_for(bench: Bench, good: Entry) -> list[str]:
    """Return the lines that this hand writes on a coil's sheet; `good` is a good coil's run."""
    lines: list[str] = []

    def do(key: str) -> Entry:
        lines.append(key)
        return bench(lines)[-1]

    def room() -> bool:
        return sum(entry.takes for entry in bench(lines)[1:]) < LINES

    looked: set[str] = set()
    bent = ""
    ran = do("run")
    if not ran.unwell:  # well everywhere: one thing can be amiss that no run shows
        entry = do(LOOK["condenser"])
        return [*lines, work_for(entry), "run"] if entry.off else lines
    while ran.unwell and room():
        order = suspects(ran, good)
        if bent and same(ran.seen, good.seen) and len(ran.unwell) <= 2:  # nearly there: the first bend is never the last
            order = [bent, *order]
        for part in [part for part in dict.fromkeys(order) if part not in looked]:
            if not room():
                return lines
            entry = do(LOOK[part])
            looked.add(part)
            if entry.off and room():
                do(work_for(entry))
                bent = part if part in MUCH else ""
                looked -= {bent}  # a bend loses the reading
                break
        if room():
            ran = do("run")
    return lines


def same(here: Seen, good: Seen) -> bool:
    """Whether a run looks like a good coil's, a tenth of an ampere or two aside."""
    near = here.current is not None and abs(here.current / good.current - 1.0) < 0.06
    return near and (here.sparks, here.spark, here.points) == (good.sparks, good.spark, good.points)


# ------------------------------------------------------------------------------------------------------------- by rote
PARTS = tuple(LOOK)


@dataclass(frozen=True)
class Rote:
    """A habit that needs no reasoning: the looks in a fixed order, each thing that is off mended, and a run.

    `first_run`: a run before all looks; `run_each`: a run after every repair, and stop where it is well; `enough`: stop looking
    after so many repairs and run.
    """

    first_run: bool = False
    run_each: bool = False
    enough: int = 2

    def lines(self, bench: Bench, order: Sequence[str]) -> list[str]:
        """Return what this habit writes on a coil's sheet, the looks in this order of parts."""
        lines = ["run"] if self.first_run else []
        mended = 0

        def left() -> int:
            return LINES - sum(entry.takes for entry in bench(lines)[1:])

        for part in order:
            if left() <= 1:
                break
            lines.append(LOOK[part])
            entry = bench(lines)[-1]
            if entry.off and left() > 0:
                lines.append(work_for(entry))
                mended += 1
                if self.run_each and left() > 0:
                    lines.append("run")
                    if not bench(lines)[-1].unwell:
                        return lines
                elif mended == self.enough:
                    break
        return [*lines, "run"] if left() > 0 and lines[-1] != "run" else lines

    def mends(self, faulty: Set[str], order: Sequence[str]) -> bool:
        """Return whether it mends a coil with these faulty parts and has a line left for its run, by counting lines alone."""
        used, left, read = int(self.first_run), set(faulty), False
        for part in order:
            if used >= LINES - 1:
                break
            used = min(LINES, used + (1 if part in left or part == "magneto" else IN_VAIN))
            read = read or part == "condenser"
            if part in left:
                left.discard(part)
                used += 1 + self.run_each
                if used > LINES or self.run_each and not left:
                    return used <= LINES
                if not self.run_each and len(faulty) - len(left) == self.enough:
                    break
        ran = used < LINES or self.first_run and not faulty
        return not left and ran and (bool(faulty) or read)


HABITS = {
    "run at the end": Rote(enough=9), "run first and last": Rote(True, enough=9), "run after every repair": Rote(run_each=True),
    "run first and after every repair": Rote(True, True), "one repair": Rote(enough=1), "two repairs": Rote(enough=2),
}
