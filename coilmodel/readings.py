"""What a person would measure on a run: sparks per pulse, opening current and time, follow travel, meter readings.

Standard library only. The *opening current* of a pulse is the current at its first real parting (`Opening.real`: no chatter of
closing contacts, no bounce of the last pulse). What counts as a spark, and as one for the engine, is said in `coilmodel.sparks`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coilmodel.machine import BatteryDrive
from coilmodel.run import Opening, Run
from coilmodel.sparks import EFFECTIVE, by_pulse


@dataclass(frozen=True)
class Spread:
    """A mean with its scatter (sample standard deviation) over `count` readings; both None where there were none."""

    mean: float | None
    scatter: float | None
    count: int


@dataclass(frozen=True)
class Readings:
    """What a run comes to. Shares are of the measured pulses; `single`, `multiple` and `none` add up to one.

    A misfire is a pulse without an effective spark (`coilmodel.sparks`), whatever else it had.
    """

    pulses: int
    sparks_per_pulse: float
    single: float  # share with exactly one spark
    multiple: float  # share with two or more
    none: float  # share without any
    misfired: float  # share without an effective one
    opening_current: Spread  # A, without sign
    opening_time: Spread  # s from the pulse's start
    firing_angle: Spread  # degrees of crank from the pulse's start, of the effective sparks
    first_angle: Spread  # the same of the first sparks, effective or not
    parting_speed: Spread  # m/s
    follow_travel: Spread  # m
    on_rivet: float  # share of openings at which the cushion sat on its rivet
    spark_energy: float  # J a pulse, all sparks
    first_spark_energy: float  # J, mean of the first sparks
    effective_energy: float  # J, mean of the effective sparks
    later_energy: float  # J a pulse, of sparks after the effective one
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
    return [len(pulse) for pulse in by_pulse(run)]


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


def read(run: Run, least: float = EFFECTIVE) -> Readings:
    """Return the readings of `run` (see `Readings` for units); `least` joules make a spark effective."""
    fired = by_pulse(run)
    counts = [len(pulse) for pulse in fired]
    first = [pulse[0] for pulse in fired if pulse]
    lighting = [next((place for place, spark in enumerate(pulse) if spark.lights(least)), None) for pulse in fired]
    effective = [pulse[place] for pulse, place in zip(fired, lighting, strict=True) if place is not None]
    later = [spark.energy for pulse, place in zip(fired, lighting, strict=True) if place is not None
             for spark in pulse[place + 1:]]
    opened = first_openings(run)
    pulses = run.pulses

    def mean(values: Sequence[float]) -> float:
        return sum(values) / len(values) if values else 0.0

    def angles(values: Iterable[float | None]) -> Spread:
        return spread([value for value in values if value is not None])

    return Readings(
        pulses=pulses,
        sparks_per_pulse=sum(counts) / pulses,
        single=sum(count == 1 for count in counts) / pulses,
        multiple=sum(count > 1 for count in counts) / pulses,
        none=sum(count == 0 for count in counts) / pulses,
        misfired=lighting.count(None) / pulses,
        opening_current=spread([abs(o.current) for o in opened]),
        opening_time=spread([o.after for o in opened]),
        firing_angle=angles(spark.crank_angle for spark in effective),
        first_angle=angles(spark.crank_angle for spark in first),
        parting_speed=spread([o.parting_speed for o in opened]),
        follow_travel=spread([o.follow for o in opened]),
        on_rivet=mean([1.0 if o.on_rivet else 0.0 for o in opened]),
        spark_energy=sum(spark.energy for pulse in fired for spark in pulse) / pulses,
        first_spark_energy=mean([spark.energy for spark in first]),
        effective_energy=mean([spark.energy for spark in effective]),
        later_energy=sum(later) / pulses,
        arc_energy=sum(o.arc_energy for o in run.openings) / pulses,
        break_arc_energy=mean([o.break_arc_energy for o in opened]),
        peak_contact_voltage=mean([o.peak_contact_voltage for o in opened]),
        peak_secondary_voltage=mean([o.peak_secondary_voltage for o in opened]),
        sparks_a_second=sum(counts) / run.meter.seconds,
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
        if result.misfired:
            return f"{parts}; one spark in every pulse, but {_share(result.misfired)} of them too weak to light the charge."
        return f"{parts}; one spark in every pulse."
    bits = []
    if result.multiple:
        bits.append(f"{_share(result.multiple)} fire more than once")
    if result.none:
        bits.append(f"{_share(result.none)} do not fire")
    if result.single and bits:
        bits.append(f"{_share(result.single)} fire once")
    weak = f"; {_share(result.misfired)} misfire" if result.misfired > result.none else ""
    return f"{parts}; of the pulses, {', '.join(bits)} ({result.sparks_per_pulse:.2g} sparks a pulse on average){weak}."


def _share(share: float) -> str:
    if share == 1.0:
        return "all"
    return f"{100.0 * share:.0f} in 100"
