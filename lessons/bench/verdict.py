"""What a coil's readings come to: the verdict that a judge gives and a card says. Standard library only."""

from __future__ import annotations

from dataclasses import dataclass

from lessons.bench.asks import Ask
from lessons.bench.causes import Cause, Coil
from lessons.bench.errors import NAMED
from lessons.bench.sheet import Reading


@dataclass(frozen=True)
class Judged:
    """One reading against what well-set coils give. `low` to `high` (SI) holds nine in ten of those, errors included."""

    reading: Reading
    low: float
    high: float
    side: str  # "within", "below" or "above"
    never: bool = False  # no imagined well-set coil gives such a reading at all here


@dataclass(frozen=True)
class Next:
    """A reading that could be taken next, and how far it would bring the odds."""

    ask: Ask
    bits: float  # of the doubt about the cause that it is expected to take away
    sureness: float  # expected odds of the then likeliest cause


@dataclass(frozen=True)
class Verdict:
    """What a coil's readings come to."""

    judged: tuple[Judged, ...]
    odds: tuple[tuple[Cause, float], ...]  # likeliest first; they add up to one
    severity: tuple[float, float, float]  # of the likeliest cause: median, and the limits that hold nine in ten
    likeness: Coil  # the imagined coil with the likeliest cause that agrees best
    fit: float  # share of imagined coils with the likeliest cause whose readings would agree less well with it
    worst: Reading | None  # the reading that agrees least with the likeliest cause
    weight: float  # imagined coils of that cause that carry the odds (effective number)
    next_steps: tuple[Next, ...]
    gap: float
    gap_assumed: bool

    @property
    def cause(self) -> Cause:
        """Return the likeliest cause."""
        return self.odds[0][0]

    @property
    def sure(self) -> bool:
        """Return whether the likeliest cause is named, or the readings cannot tell."""
        return self.odds[0][1] >= NAMED
