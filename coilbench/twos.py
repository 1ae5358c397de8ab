"""Imagined coils with two faults: what they read at rest, without their machines, and what they were stored to read as they run.

A page asks some thousands of them. To make as many machines, each number checked, would take it seconds; at rest a coil shows no
more than its design's number and what its two faults make of it. Standard library only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from coilbench.asks import Ask, Setting
from coilbench.causes import Cause, Coil, number_of, severity_of, spoilt
from coilbench.errors import discharges, of_running, of_still
from coilbench.kinds import BY_KEY

Fault = tuple[Cause, float]
"""A cause, and where from 0 to 1 its severity lies in the cause's range."""


@dataclass(eq=False)
class Pairs:
    """The coils: as many of each design, one design after another.

    sound : each design's well-set coil, before any fault; faults : the two of each coil, the first of them put in first;
    runs : by setting, a row of running.OUTCOME for each coil
    """

    sound: Sequence[Coil]
    faults: Sequence[tuple[Fault, Fault]]
    runs: dict[Setting, list[list[float]]] = field(default_factory=dict)

    @property
    def each(self) -> int:
        """Return how many coils there are of each design."""
        return len(self.faults) // len(self.sound)

    def design(self, place: int) -> int:
        """Return the place of a coil's design."""
        return place // self.each

    def have(self, key: str) -> list[bool]:
        """Return of each coil whether one of its faults is the cause called `key`."""
        return [first.key == key or second.key == key for (first, _), (second, _) in self.faults]

    @cached_property
    def coils(self) -> list[Coil]:
        """Return the coils themselves, for who runs them."""
        return [spoilt(spoilt(self.sound[self.design(place)], *first), *second)
                for place, (first, second) in enumerate(self.faults)]

    def numbers(self, name: str) -> list[float]:
        """Return a number of every coil's machine, SI units. name : part_field"""
        found = [number_of(coil.machine, name) for coil in self.sound for _ in range(self.each)]
        for place, cause, even in self._changes.get(name, ()):
            severity = severity_of(cause, even)
            found[place] = severity if cause.absolute else found[place] * severity
        return found

    @cached_property
    def _changes(self) -> dict[str, list[tuple[int, Cause, float]]]:
        found: dict[str, list[tuple[int, Cause, float]]] = {}
        for place, both in enumerate(self.faults):
            for cause, even in both:
                found.setdefault(cause.what, []).append((place, cause, even))
        return found

    def predictions(self, ask: Ask) -> tuple[list[float], list[float]]:
        """Return what each coil reads when asked, and its error's scale; nan where the model gives no reading."""
        if ask.setting is not None:
            return of_running(ask, self.runs[ask.setting])
        if ask.kind == "self_discharge":
            return discharges(ask, self.numbers("condenser_capacitance"), self.numbers("condenser_leakage_resistance"))
        return of_still(ask, [self.numbers(name) for name in BY_KEY[ask.kind].shows])
