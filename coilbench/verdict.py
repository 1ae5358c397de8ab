"""What a coil's readings come to: the verdict that a judge gives and a card says. Standard library only."""

from __future__ import annotations

from dataclasses import dataclass

from coilbench.asks import CONFIRM, CONFIRMING, Ask
from coilbench.causes import OTHER, Cause, Coil, number_of
from coilbench.errors import needed, second_limit
from coilbench.sheet import Reading
from coilbench.units import ohms
from coilmodel import Machine


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
class Number:
    """A number of the machine that the readings may tell: `key` is part_field, or "drive"; SI units."""

    key: str
    name: str
    unit: str  # in which it is said
    one: float  # of that unit, in SI

    def of(self, coil: Coil) -> float:
        """Return the number of an imagined coil (SI; the drive as a share of what the sheet says)."""
        if self.key == "drive":
            return coil.drive * coil.machine.magneto.flux_linkage / Machine().magneto.flux_linkage
        return number_of(coil.machine, self.key)

    def say(self, value: float) -> str:
        """Return `value` (SI) in words; resistances in the unit that suits them."""
        return " ".join(self.apart(value))

    def apart(self, value: float) -> tuple[str, str]:
        """Return the figure and the unit of `say`."""
        return ohms(value) if self.unit == "ohm" else (f"{float(f'{value / self.one:.3g}'):g}", self.unit)

    def between(self, low: float, high: float) -> str:
        """Return two limits (SI) in words, the unit once where both have the same."""
        (first, unit), (last, own) = self.apart(low), self.apart(high)
        return f"{first} to {last} {own}" if unit == own else f"{first} {unit} to {last} {own}"


NUMBERS = (
    Number("vibrator_preload", "vibrator preload", "N", 1.0), Number("cushion_preload", "cushion preload", "N", 1.0),
    Number("cushion_travel", "follow travel", "mm", 1e-3), Number("condenser_capacitance", "condenser capacity", "uF", 1e-6),
    Number("condenser_leakage_resistance", "condenser's leakage resistance", "ohm", 1.0),
    Number("contacts_resistance", "contact resistance", "ohm", 1.0),
    Number("coil_core_resistance", "core's loss resistance", "ohm", 1.0),
    Number("drive", "magneto's strength, of what the sheet says", "%", 0.01),
)
"""Shorted turns show as a low loss resistance of the core (see causes)."""

TOLD = 0.25  # bits: under it the readings are said not to tell a number


@dataclass(frozen=True)
class Fitted:
    """What the readings tell of one number of the machine (SI): the limits hold nine in ten, before any reading and after."""

    number: Number
    median: float
    low: float
    high: float
    before_low: float
    before_high: float
    bits: float  # how much the readings tell of it: the divergence of after from before

    @property
    def told(self) -> bool:
        """Return whether these readings tell anything of the number."""
        return self.bits >= TOLD


@dataclass(frozen=True)
class Verdict:
    """What a coil's readings come to."""

    judged: tuple[Judged, ...]
    odds: tuple[tuple[Cause, float], ...]  # likeliest first; they add up to one
    severity: tuple[float, float, float]  # of the likeliest single cause: median, and the limits that hold nine in ten
    likeness: Coil  # the imagined coil with the likeliest single cause that agrees best
    fit: float  # share of imagined coils with the likeliest single cause whose readings would agree less well with it
    worst: Reading | None  # the reading that agrees least with the likeliest single cause
    weight: float  # imagined coils of that cause that carry the odds (effective number)
    next_steps: tuple[Next, ...]
    gap: float
    gap_assumed: bool
    fitted: tuple[Fitted, ...] = ()
    carried: float = 0.0  # imagined coils that carry the fitted numbers (effective number)
    twos: bool = False  # whether coils with two faults were imagined too, so that a second fault has odds of its own
    relative: bool = False  # whether it was held against imagined coils of other makes: the likeness is of another make's size

    @property
    def cause(self) -> Cause:
        """Return the likeliest cause."""
        return self.odds[0][0]

    @property
    def single(self) -> Cause:
        """Return the likeliest single cause: the likeliest of all but OTHER."""
        return next(cause for cause, _ in self.odds if cause is not OTHER)

    @property
    def ran(self) -> bool:
        """Return whether any reading was taken on the running coil."""
        return any(judged.reading.bench is not None for judged in self.judged)

    @property
    def counted(self) -> bool:
        """Return whether the coil's sparks were counted, unhelped: without that no coil is called well set."""
        return any(judged.reading.kind == "sparks" and not judged.reading.helped for judged in self.judged)

    @property
    def sure(self) -> bool:
        """Return whether the likeliest cause is named, or the readings cannot tell."""
        return (self.odds[0][1] >= needed(self.cause) and (self.cause.key != "well_set" or self.counted)
                and not self.second_fault and (self.confirmed or not self.cause.lasting))

    @property
    def confirmed(self) -> bool:
        """Return whether the reading that confirms a cause that nothing mends was taken: its sparks with a sound condenser."""
        return any(judged.reading.kind == CONFIRM.kind and judged.reading.helped == CONFIRMING.bench.aid
                   for judged in self.judged)

    @property
    def unconfirmed(self) -> bool:
        """Return whether the likeliest cause would be named, if only the reading that confirms it had been taken."""
        return (self.cause.lasting and not self.confirmed and self.odds[0][1] >= needed(self.cause) and not self.second_fault)

    @property
    def second_fault(self) -> bool:
        """Return whether a second fault is too likely for the likeliest single cause to be named."""
        return self.twos and self.cause is not OTHER and dict(self.odds)[OTHER] >= self.second_limit

    @property
    def second_limit(self) -> float:
        """Return the odds of a second fault under which a single cause may be named, by what was read."""
        return second_limit([judged.reading.kind for judged in self.judged])

    def called(self, cause: Cause) -> str:
        """Return the name of a cause as these readings may say it: a coil that never ran is not 'well set'."""
        if cause.key != "well_set" or self.counted:
            return cause.name
        return f"no fault found yet ({'sparks not counted' if self.ran else 'it was never run'})"
