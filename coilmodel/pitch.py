"""The pitch of a buzz: how often the blade's motion repeats itself, which is not how often the contacts part.

A blade that bounces once in every swing parts the contacts twice as often as it repeats, and an ear follows the repetition.
So the pitch is looked for where the motion is most like itself some time later: the normalised square difference of
P. McLeod and G. Wyvill, "A smarter way to find pitch", Proc. ICMC 2005 (from memory). Standard library only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from operator import mul

from coilmodel.checks import checked
from coilmodel.run import Run

SAMPLES = 1200
"""Evenly spaced places that the motion is read at."""
NEARLY = 0.85
"""Of the repetitions that are this good compared with the best, the shortest counts: two periods repeat as well as one."""
STEADY = 0.8
"""From this clarity on there is a tone: our choice; chaotic runs come to 0.4 to 0.7, settled ones to 0.9 and more."""
STILL = 1e-6  # m; a blade that moves less is at rest


@dataclass(frozen=True)
class Pitch:
    """How often a motion repeats, in hertz, and how well: `clarity` is 1 for an exact repetition, near 0 for a mere rattle."""

    hertz: float
    clarity: float

    @property
    def steady(self) -> bool:
        """Whether there is a tone to hear, and not a mere rattle."""
        return self.clarity >= STEADY


def pitch(times: Sequence[float], positions: Sequence[float], lowest: float = 20.0) -> Pitch | None:
    """Return how often a motion repeats itself; None where it is at rest or does not repeat in two thirds of the time.

    times: s, ascending, unevenly spaced as they may be; positions: m, one for each; lowest: Hz, 1 to 2000, the slowest
    repetition looked for. The time should hold three repetitions at least; more make it surer. Raises ValueError where the lists
    differ in length, hold fewer than eight entries or do not ascend.
    """
    lowest = checked("lowest", lowest, "Hz", 1.0, 2000.0)
    if len(times) != len(positions) or len(times) < 8:
        raise ValueError(f"times, positions: {len(times)} and {len(positions)} entries; give as many of one as of the other, "
                         "and eight or more.")
    if not times[-1] > times[0] or any(later < earlier for earlier, later in zip(times, islice(times, 1, None), strict=False)):
        raise ValueError("times: they do not ascend; give seconds in order, the last after the first.")
    if max(positions) - min(positions) < STILL:
        return None
    step = (times[-1] - times[0]) / (SAMPLES - 1)
    likeness = _likeness(_evenly(times, positions, step), min(2 * SAMPLES // 3, math.ceil(1.0 / (lowest * step))))
    peaks = _peaks(likeness)
    if not peaks:
        return None
    best = max(height for _, height in peaks)
    lag, clarity = next((place, height) for place, height in peaks if height >= NEARLY * best)
    return Pitch(1.0 / (_refined(lag, peaks) * step), clarity)


def pitch_of(run: Run) -> Pitch | None:
    """Return the pitch of the vibrator's motion over the recorded pulses of `run`; None where it is at rest.

    Raises ValueError where no strips were recorded.
    """
    if len(run.strips.time) < 8:
        raise ValueError("run: no strips to hear; simulate with record=(0, last pulse).")
    return pitch(run.strips.time, run.strips.vibrator)


def _evenly(times: Sequence[float], values: Sequence[float], step: float) -> list[float]:
    """Return the values at SAMPLES evenly spaced times, on the straight lines between their neighbours, less their mean."""
    even, place = [], 0
    for i in range(SAMPLES):
        at = times[0] + i * step
        while place < len(times) - 2 and times[place + 1] <= at:
            place += 1
        wide = times[place + 1] - times[place]
        share = min(1.0, (at - times[place]) / wide) if wide > 0.0 else 1.0
        even.append(values[place] + share * (values[place + 1] - values[place]))
    mean = sum(even) / SAMPLES
    return [value - mean for value in even]


def _likeness(x: Sequence[float], most: int) -> list[float]:
    """Return for each lag up to `most` how like the motion is to itself so much later: 1 the same, -1 turned round."""
    squares = [value * value for value in x]
    both = 2.0 * sum(squares)
    found = []
    for lag in range(most + 1):
        found.append(2.0 * sum(map(mul, x, islice(x, lag, None))) / both if both > 0.0 else 0.0)
        both -= squares[lag] + squares[len(x) - 1 - lag]
    return found


def _peaks(likeness: Sequence[float]) -> list[tuple[float, float]]:
    """Return (lag, height) of the highest place of each hump after the first swing below nought, between the samples."""
    start = next((i for i, value in enumerate(likeness) if value < 0.0), len(likeness))
    peaks: list[tuple[float, float]] = []
    top = 0
    for i in range(start, len(likeness) - 1):
        if likeness[i] > 0.0 and (top == 0 or likeness[i] > likeness[top]):
            top = i
        if likeness[i] <= 0.0 and top:
            peaks.append(_between(likeness, top))
            top = 0
    if top and top < len(likeness) - 2:  # a hump that the longest lag cuts, past its top
        peaks.append(_between(likeness, top))
    return peaks


def _between(likeness: Sequence[float], top: int) -> tuple[float, float]:
    """Return the top of the parabola through a highest sample and its neighbours."""
    before, here, after = likeness[top - 1], likeness[top], likeness[top + 1]
    bend = before - 2.0 * here + after
    shift = 0.0 if bend >= 0.0 else 0.5 * (before - after) / bend
    return top + shift, here - 0.25 * (before - after) * shift


def _refined(lag: float, peaks: Sequence[tuple[float, float]]) -> float:
    """Return the lag as a whole part of the longest one that is a multiple of it: the error is divided by their number."""
    for place, height in reversed(peaks):
        number = round(place / lag)
        if number >= 1 and height > 0.5 and abs(place - number * lag) < 0.1 * lag:
            return place / number
    return lag
