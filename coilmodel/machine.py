"""The machine: what is there, in numbers with units, allowed ranges and where each number comes from.

Every class is a frozen dataclass whose fields are SI units. A field's metadata holds its unit, its allowed range and its
origin; a value outside the range, not finite or of the wrong type raises `ValueError` with one sentence. The defaults are
the nominal machine, found by the committed search `python -m coilmodel.search` unless the origin says otherwise
(see the book's page on the nominal machine). No default describes any real maker's coil.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field, fields
from typing import Any

from coilmodel.checks import checked

SEARCH = "found by the search (coilmodel.search)"
WORKABLE = "a workable value of the trade, from memory; common practice, no source"


PART_OF = {"SparkGap": "gap"}
"""Where a class is not called as its part of the machine: an error names the number by the address that sets it."""


def _number(default: float, unit: str, low: float, high: float, meaning: str, origin: str) -> Any:
    return field(default=default, metadata={"unit": unit, "low": low, "high": high, "meaning": meaning, "origin": origin})


class _Checked:
    """Checks every number of a dataclass against its own metadata when it is made."""

    def __post_init__(self) -> None:
        for item in fields(self):  # type: ignore[arg-type]
            about = item.metadata
            if "unit" in about:
                name = f"{PART_OF.get(type(self).__name__, type(self).__name__.lower())}.{item.name}"
                value = checked(name, getattr(self, item.name), about["unit"], about["low"], about["high"])
                object.__setattr__(self, item.name, value)


# ---------------------------------------------------------------------------------------------------- the parts
@dataclass(frozen=True)
class Magneto(_Checked):
    """A flywheel magneto: EMF proportional to speed behind its own inductance and resistance."""

    flux_linkage: float = _number(0.030, "Wb", 0.0, 0.2, "peak flux linkage of the winding, in weber-turns", WORKABLE)
    inductance: float = _number(1.7e-3, "H", 0.0, 0.05, "inductance of the winding", WORKABLE)
    resistance: float = _number(0.25, "ohm", 0.0, 20.0, "resistance of the winding and its leads", WORKABLE)
    pole_pairs: int = field(
        default=8, metadata={"meaning": "pairs of poles; one pulse is 180/pole_pairs degrees of crank", "origin": WORKABLE}
    )
    third_harmonic: float = _number(0.0, "1", -0.5, 0.5, "third harmonic of the EMF as a share of the first", WORKABLE)
    fifth_harmonic: float = _number(0.0, "1", -0.5, 0.5, "fifth harmonic of the EMF as a share of the first", WORKABLE)

    def __post_init__(self) -> None:
        super().__post_init__()
        if isinstance(self.pole_pairs, bool) or not isinstance(self.pole_pairs, int) or not 1 <= self.pole_pairs <= 32:
            raise ValueError(f"magneto.pole_pairs: {self.pole_pairs!r} is not a whole number from 1 to 32.")


@dataclass(frozen=True)
class Coil(_Checked):
    """The two windings on an open core of iron wire, and the core's pull on the vibrator."""

    primary_inductance: float = _number(2.6e-3, "H", 1e-4, 0.05, "primary inductance at the rivet position", WORKABLE)
    primary_resistance: float = _number(0.42, "ohm", 0.01, 20.0, "primary resistance", WORKABLE)
    turns_ratio: float = _number(75.0, "1", 5.0, 300.0, "secondary turns over primary turns", WORKABLE)
    coupling: float = _number(0.93, "1", 0.3, 0.995, "coupling coefficient of the two windings", WORKABLE)
    secondary_resistance: float = _number(4000.0, "ohm", 10.0, 1e5, "secondary resistance", WORKABLE)
    secondary_capacitance: float = _number(60e-12, "F", 1e-12, 1e-9, "self-capacitance of secondary and lead", WORKABLE)
    core_resistance: float = _number(
        300.0,
        "ohm",
        1.0,
        1e5,
        "eddy and hysteresis loss of the core as a resistance across the magnetising branch, primary side",
        WORKABLE,
    )
    magnetic_gap: float = _number(
        0.0008795, "m", 1e-4, 1e-2, "effective gap of vibrator to core at the rivet position, fringing included", SEARCH
    )
    pull_constant: float = _number(1.301e-07, "N m2/A2", 1e-10, 1e-5, "K of F = K i^2/gap^2, and of L = L0 + 2K/gap", SEARCH)

    def __post_init__(self) -> None:
        super().__post_init__()
        share = 2.0 * self.pull_constant / self.magnetic_gap / (self.coupling * self.primary_inductance)
        if share >= 0.9:
            raise ValueError(
                f"coil.pull_constant: {self.pull_constant:g} N m2/A2 makes the vibrator's gap {100 * share:.0f} % of the "
                "magnetising inductance; allowed is under 90 % (2 K/gap against coupling x inductance)."
            )


@dataclass(frozen=True)
class Condenser(_Checked):
    """The condenser across the contacts, with its leakage."""

    capacitance: float = _number(
        0.45e-6, "F", 1e-10, 1e-4, "capacity", "ten-inch spark coils: 0.4-0.5 uF (Fleming, Pop. Sci. Monthly 63, 1903, p. 207)"
    )
    leakage_resistance: float = _number(20e6, "ohm", 1.0, 1e12, "leakage resistance", WORKABLE)


@dataclass(frozen=True)
class Contacts(_Checked):
    """The pair of points: closed resistance, and when an arc between them lives (tungsten)."""

    resistance: float = _number(0.030, "ohm", 1e-4, 20.0, "resistance of the closed contacts", WORKABLE)
    arc_voltage: float = _number(
        14.0, "V", 5.0, 50.0, "minimum arc voltage", "tungsten about 15 V (Holm, Electric Contacts, 4e, 1967, from memory)"
    )
    arc_current: float = _number(
        0.9, "A", 0.05, 10.0, "minimum arc current of a vanishing gap", "tungsten 0.8-1.2 A (Holm 1967, from memory)"
    )
    arc_power: float = _number(
        11.0, "W", 0.0, 200.0, "c of Ayrton's law v = a + b l + (c + d l)/i: the arc's loss at no length",
        "metals 9-11 W (Guye & Zebrikoff 1907, from memory)",
    )
    arc_power_rise: float = _number(
        15e3, "W/m", 0.0, 1e6, "d of Ayrton's law: how much the loss grows with the gap",
        "metals 15-19 W/mm (Guye & Zebrikoff 1907, from memory)",
    )
    arc_time: float = _number(
        0.15e-6, "s", 1e-9, 1e-3, "time constant of a short arc: a condenser that the arc discharges quicker puts it out",
        "short arcs between metals 0.1-1 us, order of size from memory; no source",
    )
    stiffness: float = _number(1.0e6, "N/m", 1e4, 1e8, "stiffness of contact against contact", WORKABLE)
    damping: float = _number(2.108, "N s/m", 0.0, 500.0, "damping of contact against contact", SEARCH)


@dataclass(frozen=True)
class SparkGap(_Checked):
    """The gap that the secondary must jump."""

    breakdown: float = _number(
        10e3, "V", 500.0, 60e3, "breakdown voltage", "air, 8-14 kV for plug gaps under compression; from memory"
    )
    burn: float = _number(
        600.0,
        "V",
        50.0,
        5e3,
        "voltage while it burns",
        "glow 300-500 V and its electrode drops (Heywood 1988, sec. 9.5, from memory)",
    )
    extinction: float = _number(3e-3, "A", 1e-5, 0.1, "current under which it goes out", WORKABLE)
    recovery: float = _number(
        0.1e-3, "s", 1e-6, 0.1, "quiet after which the gap has won back half of its strength",
        "small sparks in air recover in some tenths of a millisecond to milliseconds, order of size from memory; no source",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.burn >= self.breakdown:
            raise ValueError(f"gap.burn: {self.burn:g} V is not under the breakdown voltage of {self.breakdown:g} V.")


@dataclass(frozen=True)
class Scatter(_Checked):
    """How much a real coil differs from pulse to pulse; the same `seed` gives the same run in every home of the kernel."""

    breakdown: float = _number(
        0.05, "1", 0.0, 0.3, "spread of the gap's breakdown voltage from spark to spark, as a share",
        "statistical lag of spark gaps, a few percent; from memory",
    )
    resistance: float = _number(
        0.3, "1", 0.0, 1.0, "spread of the closed contacts' resistance from closing to closing, as a share",
        "contact resistance repeats to some tens of percent (Holm 1967, from memory)",
    )
    ripple: float = _number(
        0.02, "1", 0.0, 0.2, "how far the crank's speed goes up and down with the compressions, as a share of the mean",
        "a flywheel engine pulling gently, order of size; common practice, no source",
    )
    seed: int = field(default=1, metadata={"meaning": "which run of luck; 1 to 2147483646", "origin": "our choice"})

    def __post_init__(self) -> None:
        super().__post_init__()
        if isinstance(self.seed, bool) or not isinstance(self.seed, int) or not 1 <= self.seed <= 2147483646:
            raise ValueError(f"scatter.seed: {self.seed!r} is not a whole number from 1 to 2147483646.")


@dataclass(frozen=True)
class Vibrator(_Checked):
    """The iron-tipped lower blade that the core draws down; it carries the lower contact."""

    mass: float = _number(0.0009338, "kg", 5e-5, 2e-2, "effective mass at the contact", SEARCH)
    stiffness: float = _number(159.5, "N/m", 1.0, 2e4, "stiffness at the contact", SEARCH)
    preload: float = _number(
        2.555,
        "N",
        -2.0,
        20.0,
        "upward force when the cushion sits on the rivet; negative: bent away, the contacts stand open",
        SEARCH,
    )
    damping: float = _number(0.1142, "N s/m", 0.0, 20.0, "damping of the blade", SEARCH)
    stop: float = _number(
        0.00043975, "m", 1e-5, 5e-3, "position at which the core stops it", "about half the magnetic gap (design notes)"
    )
    stop_stiffness: float = _number(5e6, "N/m", 1e4, 1e8, "stiffness of the core as a stop", WORKABLE)
    stop_damping: float = _number(19.44, "N s/m", 0.0, 500.0, "damping of the core as a stop", SEARCH)


@dataclass(frozen=True)
class Cushion(_Checked):
    """The lighter upper blade under its bridge; it carries the upper contact and follows as far as the rivet lets it."""

    mass: float = _number(0.0002623, "kg", 2e-5, 5e-3, "effective mass at the contact", SEARCH)
    stiffness: float = _number(490.4, "N/m", 1.0, 5e4, "stiffness at the contact", SEARCH)
    preload: float = _number(1.037, "N", 0.0, 20.0, "downward force when it sits on the rivet", SEARCH)
    damping: float = _number(0.845, "N s/m", 0.0, 20.0, "damping of the blade", SEARCH)
    travel: float = _number(
        0.0001509,
        "m",
        5e-6,
        2e-3,
        "free travel from bridge to rivet",
        "one to three tenths of a millimetre, common practice, no source; " + SEARCH,
    )
    rivet_stiffness: float = _number(1.5e6, "N/m", 1e4, 1e8, "stiffness of the rivet", WORKABLE)
    rivet_damping: float = _number(30.9, "N s/m", 0.0, 500.0, "damping of the rivet", SEARCH)
    bridge_stiffness: float = _number(8.49e5, "N/m", 1e4, 1e8, "stiffness of the bridge", SEARCH)
    bridge_damping: float = _number(14.8, "N s/m", 0.0, 500.0, "damping of the bridge", SEARCH)


# --------------------------------------------------------------------------------------------------- the drives
@dataclass(frozen=True)
class MagnetoDrive(_Checked):
    """The magneto turned steadily, as on a bench: `drive` is its strength as a share of rated."""

    rpm: float = _number(450.0, "rpm", 10.0, 5000.0, "crank speed", "an engine pulling gently; common practice, no source")
    drive: float = _number(1.0, "1", 0.0, 5.0, "strength of the magneto as a share of rated", WORKABLE)


@dataclass(frozen=True)
class TimerDrive(_Checked):
    """The magneto in the car: the engine's timer lets current through once in two turns of the crank."""

    rpm: float = _number(450.0, "rpm", 10.0, 5000.0, "crank speed", "an engine pulling gently; common practice, no source")
    drive: float = _number(1.0, "1", 0.0, 5.0, "strength of the magneto as a share of rated", WORKABLE)
    window_start: float = _number(
        10.0, "degree", -90.0, 540.0, "crank angle at which the timer closes, from an EMF zero", WORKABLE
    )
    window_width: float = _number(40.0, "degree", 1.0, 360.0, "crank angle for which it stays closed", WORKABLE)
    arc_voltage: float = _number(
        25.0,
        "V",
        5.0,
        100.0,
        "arc voltage of the timer's iron roller when it breaks a current",
        "iron, 25 V at no length (von Lang, in Encyclopaedia Britannica, 1911, vol. 6)",
    )


@dataclass(frozen=True)
class BatteryDrive(_Checked):
    """A battery and its leads."""

    volts: float = _number(12.0, "V", 0.0, 100.0, "open-circuit voltage", "a car battery; common practice, no source")
    resistance: float = _number(0.15, "ohm", 0.0, 20.0, "battery and leads", WORKABLE)
    inductance: float = _number(5e-6, "H", 0.0, 0.05, "leads", WORKABLE)
    pulse_time: float = _number(
        10e-3, "s", 1e-4, 1.0, "length of one row of the ladder; a battery gives no pulses of its own", "our choice"
    )


@dataclass(frozen=True)
class TransformerDrive(_Checked):
    """A bench transformer on the mains."""

    volts: float = _number(9.0, "V", 0.0, 100.0, "open-circuit voltage, RMS", WORKABLE)
    frequency: float = _number(50.0, "Hz", 5.0, 500.0, "mains frequency", "50 or 60 Hz public supplies")
    resistance: float = _number(0.3, "ohm", 0.0, 20.0, "winding and leads", WORKABLE)
    inductance: float = _number(0.3e-3, "H", 0.0, 0.05, "leakage inductance", WORKABLE)


Drive = MagnetoDrive | TimerDrive | BatteryDrive | TransformerDrive


# -------------------------------------------------------------------------------------------------- the machine
@dataclass(frozen=True)
class Machine:
    """A magneto, a coil box and the gap it fires. `Machine()` is the nominal machine."""

    magneto: Magneto = field(default_factory=Magneto)
    coil: Coil = field(default_factory=Coil)
    condenser: Condenser = field(default_factory=Condenser)
    contacts: Contacts = field(default_factory=Contacts)
    gap: SparkGap = field(default_factory=SparkGap)
    vibrator: Vibrator = field(default_factory=Vibrator)
    cushion: Cushion = field(default_factory=Cushion)

    def __post_init__(self) -> None:
        for item in fields(self):
            part = getattr(self, item.name)
            if type(part).__name__ != str(item.type):
                raise ValueError(f"machine.{item.name}: {part!r} is not a {item.type}.")
        if self.vibrator.stop > 0.8 * self.coil.magnetic_gap:
            raise ValueError(
                f"vibrator.stop: {1e3 * self.vibrator.stop:g} mm must be under 0.8 of the magnetic gap, "
                f"{0.8e3 * self.coil.magnetic_gap:g} mm (nearer the core the pull formula runs away)."
            )

    def but(self, **parts: dict[str, Any]) -> Machine:
        """Return a copy with some numbers changed.

        parts: for each part named, a dict of its new values in SI units. Raises ValueError for an unknown part or field.

        >>> Machine().but(cushion={"preload": 2.0}).cushion.preload
        2.0
        """
        new: dict[str, Any] = {}
        for name, changes in parts.items():
            part = getattr(self, name, None)
            if not dataclasses.is_dataclass(part) or isinstance(part, type):
                names = ", ".join(f.name for f in fields(self))
                raise ValueError(f"machine: there is no part named {name!r}; there are {names}.")
            known = [f.name for f in fields(part)]
            for key in changes:
                if key not in known:
                    raise ValueError(f"{name}: there is no field named {key!r}; there are {', '.join(known)}.")
            new[name] = dataclasses.replace(part, **changes)
        return dataclasses.replace(self, **new)

    def scaled(self, **factors: float) -> Machine:
        """Return a copy with some numbers multiplied, as in `scaled(cushion_preload=0.8)`.

        factors: for each name, part and field joined by an underscore, what its number is multiplied by (0 to 1000).
        Raises ValueError for an unknown name, or where the product is out of the field's range.
        """
        changes: dict[str, dict[str, Any]] = {}
        for name, factor in factors.items():
            part, _, key = name.partition("_")
            if not hasattr(self, part) or not hasattr(getattr(self, part), key):
                raise ValueError(f"machine: there is no number named {name!r}; write part_field, as in cushion_preload.")
            changes.setdefault(part, {})[key] = getattr(getattr(self, part), key) * checked(name, factor, "1", 0.0, 1e3)
        return self.but(**changes)


def pulse_seconds(machine: Machine, drive: Drive) -> float:
    """Return the length of one pulse in seconds: half a cycle of the EMF (for a battery: one row of the ladder)."""
    if isinstance(drive, BatteryDrive):
        return drive.pulse_time
    if isinstance(drive, TransformerDrive):
        return 0.5 / drive.frequency
    return 30.0 / (machine.magneto.pole_pairs * drive.rpm)


def emf_peak(machine: Machine, drive: Drive) -> float:
    """Return the peak of the EMF's fundamental in volts (the voltage itself for a battery)."""
    if isinstance(drive, BatteryDrive):
        return drive.volts
    if isinstance(drive, TransformerDrive):
        return math.sqrt(2.0) * drive.volts
    return drive.drive * machine.magneto.flux_linkage * math.pi / pulse_seconds(machine, drive)
