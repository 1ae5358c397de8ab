"""Timings that can be compared: contestants take turns within one run, and what counts is the ratio within each turn.

A machine that is busy with other things slows both contestants of a turn alike, so the ratio keeps still where the seconds
do not. Seconds are of the processor, not of the clock on the wall: a contestant that waits its turn is not charged for it.
"""

from __future__ import annotations

import contextlib
import resource
import statistics
import time
import unittest.mock
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from coilmodel import kernel
from coilmodel import run as run_module


@dataclass(frozen=True)
class Spread:
    """Median of some readings, with the quartiles in which half of them lie."""

    median: float
    low: float
    high: float
    count: int

    def text(self, form: str = ".3g", scale: float = 1.0) -> str:
        """Return "median (low to high)" with every number in the given form, after multiplying by `scale`."""
        return f"{scale * self.median:{form}} ({scale * self.low:{form}} to {scale * self.high:{form}})"


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, ours, the peer, their ratio, and the goal it is held against."""

    what: str
    ours: str
    peer: str
    ratio: str
    goal: str
    met: bool | None  # None: there is no goal, or nothing could be measured


def spread(values: Sequence[float]) -> Spread:
    """Return the median and quartiles of at least two readings."""
    low, _, high = statistics.quantiles(values, n=4, method="inclusive")
    return Spread(statistics.median(values), low, high, len(values))


def turns(contestants: dict[str, Callable[[], Any]], repeats: int) -> dict[str, list[float]]:
    """Return processor seconds of each contestant in each of `repeats` turns; one turn before them warms up and is dropped.

    Child processes that a contestant starts and waits for are counted with it.
    """
    seconds: dict[str, list[float]] = {name: [] for name in contestants}
    names = list(contestants)
    for turn in range(repeats + 1):
        for name in names[turn % len(names):] + names[:turn % len(names)]:
            begin = _processor()
            contestants[name]()
            took = _processor() - begin
            if turn:
                seconds[name].append(took)
    return seconds


def ratios(seconds: dict[str, list[float]], ours: str, peer: str, share: float = 1.0) -> Spread:
    """Return peer over ours, turn by turn; `share`: pulses of ours over pulses of the peer, where they ran unlike lengths."""
    return spread([share * theirs / mine for mine, theirs in zip(seconds[ours], seconds[peer], strict=True)])


@contextlib.contextmanager
def plain_home() -> Iterator[None]:
    """While inside, `simulate` runs the kernel as plain Python, as it would without numba."""
    with unittest.mock.patch.multiple(run_module, None, advance=kernel.advance, buffer=lambda size: [0.0] * size):
        yield


def _processor() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime
