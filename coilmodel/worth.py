"""What a coil is worth to the engine: each speed through the timer, every window from rest, with the scatter of a real coil.

Standard library only. On the bench a magneto turns on and on; in the car a coil rests for nearly two turns of the crank, meets
one pulse or so, and must give one spark that lights the charge. So a coil's worth is what comes of that window: the angle
of the effective spark and its scatter, the energy in it, the misfires, the sparks that come too late, the arc at the points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coilmodel.machine import Machine, Scatter, TimerDrive
from coilmodel.readings import Spread, read
from coilmodel.run import simulate
from coilmodel.sparks import EFFECTIVE

WINDOW_START = 65.0  # degrees of crank from a zero of the EMF: the lever of lesson 8 at its usual place, 2.5 before the next zero
WINDOW_WIDTH = 28.0  # degrees: one whole pulse of eight pole pairs and a little more, lesson 8's window; our choice
SPEEDS = tuple(200.0 + 100.0 * i for i in range(11))  # rpm


@dataclass(frozen=True)
class Worth:
    """What a coil gives the engine at one speed, over `windows` windows of the timer. SI units but for the angle."""

    rpm: float
    windows: int
    misfires: float  # share of windows without an effective spark
    angle: Spread  # degrees of crank from the closing of the timer to the effective spark
    first_energy: float  # J, mean of the first sparks, effective or not
    energy: float  # J, mean of the effective sparks
    later_energy: float  # J a window, of sparks after the effective one: too late to be of use
    sparks: float  # a window, all of them
    arc_energy: float  # J a window, that burns at the points as they part


def worth(machine: Machine, rpm: float, drive: float = 1.0, windows: int = 6, scatter: Scatter | None = None,
          least: float = EFFECTIVE, start: float = WINDOW_START, width: float = WINDOW_WIDTH) -> Worth:
    """Return what `machine` gives the engine at `rpm` and `drive` (share of the magneto's strength).

    windows: how many windows of the timer, each from rest; scatter: of the gap, the points and the speed, None for none;
    least: J that make a spark effective; start, width: of the window, degrees of crank from a zero of the EMF.
    Raises ValueError as `simulate` does.

    >>> worth(Machine(), 450.0, windows=2).misfires
    0.0
    """
    run = simulate(machine, TimerDrive(rpm, drive, window_start=start, window_width=width), pulses=windows, warm_up=0,
                   scatter=scatter)
    result = read(run, least)
    angle = result.firing_angle
    return Worth(
        rpm, windows, result.misfired,
        Spread(None if angle.mean is None else angle.mean - start % 720.0, angle.scatter, angle.count),
        result.first_spark_energy, result.effective_energy, result.later_energy, result.sparks_per_pulse,
        sum(opening.break_arc_energy for opening in run.openings) / windows,
    )


def over_speed(machine: Machine, speeds: Sequence[float] = SPEEDS, drive: float = 1.0, windows: int = 6,
               scatter: Scatter | None = None, least: float = EFFECTIVE) -> list[Worth]:
    """Return `worth` at each of `speeds` (rpm); drive, windows, scatter, least: as there."""
    return [worth(machine, rpm, drive, windows, scatter, least) for rpm in speeds]
