"""What counts as a spark, and what counts as one for the engine: the one place that says so.

Standard library only. Two questions, two rules:

*How many sparks?* The spark gap breaks down, burns, goes out, and may break down again a moment later in the same warm channel.
That is still the same spark: it looks, sounds and heats as one. A new spark begins when the gap breaks down after it had won
back three quarters of its strength (`RECOVERED`), however many openings of the contacts lie between; and one that brings
less than `WEAKEST` joules is none, since nobody would see, hear or use it.

*Which one lights the charge?* The first spark of a pulse that brings at least `EFFECTIVE` joules. A mixture of petrol and air
that moves, rich or lean, wants some 3 mJ in the gas (Heywood, Internal Combustion Engine Fundamentals, 1988, sec. 9.5, from
memory), and of a glow discharge's energy some 30 % reach the gas (Maly & Vogel in the same section, from memory): 10 mJ at
the gap. The edge is our choice and in truth a slope: just under it a warm engine may still fire, just over it a cold one may
not. A pulse without an effective spark is a *misfire*.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from coilmodel.machine import MagnetoDrive, TimerDrive
from coilmodel.run import Opening, Run

RECOVERED = 0.75
"""Share of its strength that the gap must have won back for a breakdown to begin a new spark (0.3 ms of quiet); our choice."""

WEAKEST = 1e-3
"""J: less is no spark; our choice (charging 60 pF to a bare 6 kV takes as much)."""

EFFECTIVE = 10e-3
"""J: the least that lights the charge for sure, 3 mJ in the gas at 30 % (see above); our choice between remembered figures."""


@dataclass(frozen=True)
class Spark:
    """One spark: all that the gap burned without recovering in between. SI units."""

    pulse: int
    time: float  # s from the start of the run, of its first breakdown
    after: float  # s from the start of its pulse
    crank_angle: float | None  # degrees from the start of its pulse; None where no crank turns
    energy: float  # J
    opening: Opening  # the opening of the contacts that it began in

    def lights(self, least: float = EFFECTIVE) -> bool:
        """Return whether it brings at least `least` joules: enough for the engine."""
        return self.energy >= least


def begins_anew(quiet: float, recovery: float) -> bool:
    """Return whether a breakdown after `quiet` s without burning begins a new spark, in a gap of this `recovery` s.

    In the kernel's small Python: coilmodel.tally counts by it too, compiled.
    """
    return quiet >= recovery * RECOVERED / (1.0 - RECOVERED)  # the law of kernel.spark_gap_holds


def grouped(quiet: Sequence[float], recovery: float) -> list[list[int]]:
    """Return which breakdowns make one spark: lists of places in `quiet`, in order.

    quiet: s for which the gap had been out before each, in order of time; recovery: of the gap, s (machine.gap.recovery).
    """
    groups: list[list[int]] = []
    for place, seconds in enumerate(quiet):
        if groups and not begins_anew(seconds, recovery):
            groups[-1].append(place)
        else:
            groups.append([place])
    return groups


def sparks(run: Run) -> list[Spark]:
    """Return the sparks of a run's measured pulses in order of time."""
    turning = 6.0 * run.drive.rpm if isinstance(run.drive, (MagnetoDrive, TimerDrive)) else None
    fired = [opening for opening in run.openings if opening.quiet is not None]
    found = []
    for group in grouped([opening.quiet or 0.0 for opening in fired], run.machine.gap.recovery):
        opening, energy = fired[group[0]], sum(fired[place].spark_energy for place in group)
        time = opening.spark_time if opening.spark_time is not None else opening.time
        late = time - opening.time
        angle = None if turning is None or opening.crank_angle is None else opening.crank_angle + turning * late
        if energy >= WEAKEST and opening.pulse < run.pulses:
            found.append(Spark(opening.pulse, time, opening.after + late, angle, energy, opening))
    return found


def by_pulse(run: Run) -> list[list[Spark]]:
    """Return the sparks of each measured pulse of `run`, a list a pulse."""
    pulses: list[list[Spark]] = [[] for _ in range(run.pulses)]
    for spark in sparks(run):
        pulses[spark.pulse].append(spark)
    return pulses


def effective(run: Run, least: float = EFFECTIVE) -> Iterator[Spark | None]:
    """Yield for each measured pulse of `run` the spark that lights the charge: the first of at least `least` J, or None."""
    for pulse in by_pulse(run):
        yield next((spark for spark in pulse if spark.lights(least)), None)
