"""The bad coils of the course: one list, used wherever a good coil is set beside others.

Each is the nominal machine with one thing wrong, by a factor on its number. Standard library only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from coilmodel import Machine

NOMINAL = Machine()


@dataclass(frozen=True)
class BadCoil:
    """One thing that is wrong. `key` is for programs, `label` for people; `factors` are for Machine.scaled and multiply the
    nominal numbers; `drive` is the strength of its magneto, in percent."""

    key: str
    label: str
    factors: tuple[tuple[str, float], ...] = ()
    drive: float = 100.0

    @property
    def machine(self) -> Machine:
        """The machine with this wrong."""
        return _machine(self.factors)


@lru_cache(maxsize=64)
def _machine(factors: tuple[tuple[str, float], ...]) -> Machine:
    return NOMINAL.scaled(**dict(factors))


GOOD = BadCoil("good", "well set")
SLACK, STIFF, WEAK = 0.45, 1.75, 60.0
"""The slack and the stiff cushion of the course, as shares of the well-set preload; the weak magneto, percent."""

BAD = (
    BadCoil("slack", "slack cushion", (("cushion_preload", SLACK),)),
    BadCoil("stiff", "stiff cushion", (("cushion_preload", STIFF),)),
    BadCoil("tight", "strong vibrator spring", (("vibrator_preload", 1.4),)),
    BadCoil("soft", "soft vibrator spring", (("vibrator_preload", 0.7),)),
    BadCoil("magneto", "weak magneto", (), WEAK),
    BadCoil("leak", "leaking condenser", (("condenser_leakage_resistance", 2e-5),)),
    BadCoil("small", "nearly open condenser", (("condenser_capacitance", 0.05),)),
    BadCoil("points", "burnt points", (("contacts_resistance", 20.0),)),
)
EVERY = (GOOD, *BAD)


def coil(key: str) -> BadCoil:
    """Return the coil called `key`, the good one among them."""
    return next(one for one in EVERY if one.key == key)
