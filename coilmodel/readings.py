"""What a person would measure on a run: sparks per pulse, opening current and time, follow travel, meter readings.

Standard library only. A pulse's *opening* is its first real parting of the contacts (a gap beyond field emission, or a
spark); chatter of the closing contacts is not one. A *spark* is an opening in which the spark gap broke down at least once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coilmodel.machine import BatteryDrive
from coilmodel.run import Opening, Run


@dataclass(frozen=True)
class Spread:
    """A mean with its scatter (sample standard deviation) over `count` readings; both None where there were none."""

    mean: float | None
    scatter: float | None
    count: int


@dataclass(frozen=True)
class Readings:
    """What a run comes to. Shares are of the measured pulses and add up to one: `single`, `multiple`, `missed`."""

    pulses: int
    sparks_per_pulse: float
    single: float
    multiple: float
    missed: float
    opening_current: Spread  # A, without sign
    opening_time: Spread  # s from the pulse's start
    firing_angle: Spread  # degrees of crank from the pulse's start
    parting_speed: Spread  # m/s
    follow_travel: Spread  # m
    on_rivet: float  # share of openings at which the cushion sat on its rivet
    spark_energy: float  # J a pulse, all sparks
    first_spark_energy: float  # J, mean of the first sparks
    arc_energy: float  # J a pulse, opening and closing
    break_arc_energy: float  # J, mean over first openings: the arc while the contacts part
    peak_contact_voltage: float  # V, mean over first openings
    peak_secondary_voltage: float  # V, mean over first openings
    sparks_a_second: float
    ammeter_mean: float  # A
    ammeter_rectified: float  # A, rectified mean
    ammeter_rms: float  # A
    peak_current: float  # A


def sparks_in_pulses(run: Run) -> list[int]:
    """Return the number of sparks in each measured pulse of `run`."""
    counts = [0] * run.pulses
    for opening in run.openings:
        if opening.fired and opening.pulse < run.pulses:
            counts[opening.pulse] += 1
    return counts


def first_openings(run: Run) -> list[Opening]:
    """Return the first real opening of each measured pulse of `run` that has one."""
    found: dict[int, Opening] = {}
    for opening in run.openings:
        if opening.real and opening.pulse < run.pulses:
            found.setdefault(opening.pulse, opening)
    return list(found.values())


def spread(values: Sequence[float]) -> Spread:
    """Return mean and sample standard deviation of `values` (any length; the scatter of one value is unknown, None)."""
    count = len(values)
    if count == 0:
        return Spread(None, None, 0)
    mean = sum(values) / count
    if count == 1:
        return Spread(mean, None, 1)
    return Spread(mean, math.sqrt(sum((value - mean) ** 2 for value in values) / (count - 1)), count)


def read(run: Run) -> Readings:
    """Return the readings of `run` (see `Readings` for units)."""
    counts = sparks_in_pulses(run)
    first = first_openings(run)
    fired = [opening for opening in run.openings if opening.fired]
    seen: set[int] = set()
    first_sparks = [o for o in fired if not (o.pulse in seen or seen.add(o.pulse))]  # type: ignore[func-returns-value]
    pulses = run.pulses

    def mean(values: Sequence[float]) -> float:
        return sum(values) / len(values) if values else 0.0

    return Readings(
        pulses=pulses,
        sparks_per_pulse=sum(counts) / pulses,
        single=sum(count == 1 for count in counts) / pulses,
        multiple=sum(count > 1 for count in counts) / pulses,
        missed=sum(count == 0 for count in counts) / pulses,
        opening_current=spread([abs(o.current) for o in first]),
        opening_time=spread([o.after for o in first]),
        firing_angle=spread([o.crank_angle for o in first_sparks if o.crank_angle is not None]),
        parting_speed=spread([o.parting_speed for o in first]),
        follow_travel=spread([o.follow for o in first]),
        on_rivet=mean([1.0 if o.on_rivet else 0.0 for o in first]),
        spark_energy=sum(o.spark_energy for o in run.openings) / pulses,
        first_spark_energy=mean([o.spark_energy for o in first_sparks]),
        arc_energy=sum(o.arc_energy for o in run.openings) / pulses,
        break_arc_energy=mean([o.break_arc_energy for o in first]),
        peak_contact_voltage=mean([o.peak_contact_voltage for o in first]),
        peak_secondary_voltage=mean([o.peak_secondary_voltage for o in first]),
        sparks_a_second=len(fired) / run.meter.seconds,
        ammeter_mean=run.meter.mean,
        ammeter_rectified=run.meter.rectified_mean,
        ammeter_rms=run.meter.rms,
        peak_current=run.meter.peak,
    )


def in_words(run: Run) -> str:
    """Return one or two sentences that say what `run` did, for a person."""
    result = read(run)
    current, time = result.opening_current, result.opening_time
    if current.mean is None:
        if run.machine.vibrator.preload <= 0.0 and run.ledger.contact == 0.0:
            return "The contacts never close: the vibrator is bent away from the cushion, so no current flows and nothing fires."
        return f"The contacts never open: the current peaks at {run.meter.peak:.1f} A and the springs hold. No spark."
    if isinstance(run.drive, BatteryDrive):
        buzz = f"It buzzes {current.count and result.sparks_a_second:.0f} sparks a second"
        return f"{buzz}, parting at {current.mean:.1f} A."
    parts = f"Parts {1e3 * (time.mean or 0.0):.1f} ms into the pulse at {current.mean:.1f} A"
    if result.single == 1.0:
        return f"{parts}; one spark in every pulse."
    bits = []
    if result.multiple:
        bits.append(f"{_share(result.multiple)} fire more than once")
    if result.missed:
        bits.append(f"{_share(result.missed)} do not fire")
    if result.single and bits:
        bits.append(f"{_share(result.single)} fire once")
    return f"{parts}; of the pulses, {', '.join(bits)} ({result.sparks_per_pulse:.2g} sparks a pulse on average)."


def _share(share: float) -> str:
    if share == 1.0:
        return "all"
    return f"{100.0 * share:.0f} in 100"
